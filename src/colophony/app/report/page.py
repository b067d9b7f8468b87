"""The findings of one take as one HTML page, in the order in which a teacher reads.

First what was heard, in a sentence, with the picture that shows it and the one thing to work on; then the
strokes, each with its sound; evidence and numbers on request; last the recording itself and the cautions.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from markupsafe import Markup

from colophony.app import words
from colophony.app.look.alone import data_address, policy
from colophony.app.look.bowing import ADVICE_WORDS
from colophony.app.look.figures import day
from colophony.app.look.stylesheet import stylesheet
from colophony.app.look.templates import environment
from colophony.app.phrases import capital, either
from colophony.app.report.sound import LONGEST_S, MIME, CarriedSound, encode_sound
from colophony.language import _
from colophony.listening.take import Evidence, Stroke
from colophony.teaching import wording
from colophony.teaching.cautions import CAUTIONS, ON_EVERY_SHEET
from colophony.teaching.findings import Advice, Findings, Reader, Say, said
from colophony.teaching.telling import states_shown

_HERE = Path(__file__).parent
#: Up to here every stroke is listed in order; from there on those with advice come first.
SHORT_LIST = 24
#: Up to here the picture stands beside the sentence, in s; a longer one gets the page's width.
_BESIDE_S = 12.0


@dataclass(frozen=True, slots=True)
class _Row:
    """A stroke as the page lists it. ``same_as`` is the number of the stroke that first had this advice."""

    number: int
    stroke: Stroke
    told: Say
    advice: tuple[Advice, ...]
    in_short: str
    same_as: int | None
    reasons: tuple[str, ...]
    evidence: tuple[Say, ...]
    figures: list[tuple[str, str]]
    playable: bool


def make_report(
    findings: Findings,
    sound: Path | None = None,
    *,
    title: str | None = None,
    student: str | None = None,
    reader: Reader = "teacher",
    generated: datetime | None = None,
    longest_s: float = LONGEST_S,
) -> str:
    """Return the findings as one HTML page that works alone and offline.

    Parameters
    ----------
    findings : the take, heard and judged
    sound : the recording, to be carried inside and played stroke by stroke; None leaves it out
    title : of the page; by default the student's name, else the file's
    student : whose take it is
    reader : in whose words the page opens; the page can switch
    generated : when the take was heard, shown as it is
    longest_s : sound beyond this many seconds is left out, and the page says so

    Raises `TakeError` when ``sound`` cannot be read.
    """
    take = findings.take
    carried = encode_sound(sound, duration_s=take.duration_s, longest_s=longest_s) if sound else None
    rows = _rows(findings, carried)
    first = rows if len(rows) <= SHORT_LIST else [row for row in rows if row.advice]
    style = stylesheet(fonts=None) + "\n" + (_HERE / "report.css").read_text(encoding="utf-8")
    script = (_HERE / "report.js").read_text(encoding="utf-8") if carried else ""
    page = environment(_HERE / "templates").get_template("report.html.j2")
    return page.render(
        title=title or _("{name}: findings").format(name=student or take.file),
        student=student,
        take=take,
        summary=findings.summary,
        reader=reader,
        generated=day(generated) if generated else None,
        beside=take.duration_s <= _BESIDE_S,
        states=states_shown(take),
        first=first,
        rest=[row for row in rows if row not in first] if len(first) < len(rows) else [],
        warnings=_thoughts(words.worth_saying(take)),
        cautions=[CAUTIONS[name] for name in ON_EVERY_SHEET],
        carried=carried,
        sound_address=data_address(carried.content, MIME) if carried else None,
        style=Markup(style),
        script=Markup(script),
        policy=policy(style, script),
    )


def _rows(findings: Findings, carried: CarriedSound | None) -> list[_Row]:
    seen: dict[tuple[tuple[str, str, str], ...], int] = {}
    rows = []
    for number, (stroke, advice) in enumerate(zip(findings.take.strokes, findings.advice, strict=True), 1):
        key = tuple((item.change, item.direction, item.fault) for item in advice)
        first = seen.setdefault(key, number)
        shorts = [_(ADVICE_WORDS[item.change, item.direction]) for item in advice]
        rows.append(
            _Row(
                number=number,
                stroke=stroke,
                told=_told(stroke),
                advice=advice,
                in_short=capital(either(short[:1].lower() + short[1:] for short in shorts)) if shorts else "",
                same_as=first if advice and first != number else None,
                reasons=tuple(dict.fromkeys(item.reason for item in advice if item.why)),
                evidence=tuple(_thoughts(stroke.evidence)),
                figures=words.figures(stroke),
                playable=carried is not None and stroke.end_s <= carried.seconds + 0.05,
            )
        )
    return rows


def _thoughts(items: tuple[Evidence, ...]) -> list[Say]:
    def thought(item: Evidence) -> Say:
        return said(lambda reader: wording.evidence(item, reader=reader))

    return [thought(item) for item in items]


def _told(stroke: Stroke) -> Say:
    return said(lambda reader: words.told(stroke, reader=reader))
