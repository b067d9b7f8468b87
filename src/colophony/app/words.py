"""A take's strokes as a page tells them: a sentence or two, and the numbers for those who ask."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.app.look.figures import cents, decibels, percent, with_unit
from colophony.language import N_, _
from colophony.listening.take import Evidence, Stroke, Take, ToneState
from colophony.teaching import wording
from colophony.teaching.findings import Advice, Findings, Reader, Say
from colophony.teaching.telling import told_state, tone_sentence

#: How a start is graded, in a word.
GRADES = {"clean": N_("clean"), "slow": N_("slow"), "very-slow": N_("very slow")}


@dataclass(frozen=True, slots=True)
class Row:
    """One stroke as the page of a take shows it; ``index`` counts from 0."""

    index: int
    stroke: Stroke
    told: str
    advice: tuple[Advice, ...]
    same_as: int | None  #: number of an earlier stroke, from 1, with the same advice
    evidence: list[str]
    figures: list[tuple[str, str]]


def rows(findings: Findings, *, reader: Reader) -> list[Row]:
    """Return the strokes of a take with what is said of each; the same advice is spelled out once."""
    seen: dict[tuple[tuple[str, str, str], ...], int] = {}
    made = []
    for index, (stroke, advice) in enumerate(zip(findings.take.strokes, findings.advice, strict=True)):
        number = index + 1
        first = seen.setdefault(tuple((item.change, item.direction, item.fault) for item in advice), number)
        same_as = first if advice and first != number else None
        sentence, reasons = told(stroke, reader=reader), evidence(stroke, reader=reader)
        made.append(Row(index, stroke, sentence, advice, same_as, reasons, figures(stroke)))
    return made


def told(stroke: Stroke, *, reader: Reader) -> str:
    """Return what the string did in a stroke, how it began where that is known, and what else was noticed."""
    sentences = [say_to(tone_sentence(stroke), reader)]
    if stroke.onset.kind != "unknown" and told_state(stroke) is not ToneState.UNSURE:
        sentences.append(wording.start_sentence(stroke.onset, reader=reader))
    sentences += [say_to(remark, reader) for remark in wording.remarks(stroke)]
    return " ".join(sentences)


def say_to(say: Say, reader: Reader) -> str:
    """Return one thought in the words of a reader."""
    return say.to(reader)


def warnings(take: Take, *, reader: Reader) -> list[str]:
    """Return what is to be said of the recording itself, in the words of a reader."""
    return [wording.evidence(item, reader=reader) for item in worth_saying(take)]


def worth_saying(take: Take) -> tuple[Evidence, ...]:
    """Return the warnings of a take that its headline does not say already."""
    return tuple(item for item in take.warnings if take.strokes or item.kind != "no_tone")


def evidence(stroke: Stroke, *, reader: Reader) -> list[str]:
    """Return why the string's state is believed to be what it is."""
    return [wording.evidence(item, reader=reader) for item in stroke.evidence]


def figures(stroke: Stroke) -> list[tuple[str, str]]:
    """Return the measured figures of a stroke as (name, value); what the take cannot tell is left out."""
    onset, steadiness, brightness = stroke.onset, stroke.steadiness, stroke.brightness
    rows: list[tuple[str, float | None, str]] = [
        (_("Frequency"), stroke.frequency_hz, with_unit(stroke.frequency_hz, "Hz", 1)),
        (_("From equal temperament"), stroke.cents, cents(stroke.cents)),
        (_("Sure of the state"), stroke.confidence, percent(stroke.confidence)),
        (_("Until the tone settled"), onset.settling_ms, _settling(stroke)),
        (_("Swing of level"), steadiness.level_swing_db, decibels(steadiness.level_swing_db)),
        (
            _("Swing of pitch"),
            steadiness.pitch_swing_cents,
            with_unit(steadiness.pitch_swing_cents, _("cents")),
        ),
        (_("Vibrato, times a second"), steadiness.vibrato_hz, with_unit(steadiness.vibrato_hz, "Hz", 1)),
        (
            _("Vibrato, to either side"),
            steadiness.vibrato_cents,
            with_unit(steadiness.vibrato_cents, _("cents")),
        ),
        (_("Middle of the sound"), brightness.centroid_hz, with_unit(brightness.centroid_hz, "Hz")),
        (
            _("Brighter than the accepted tone"),
            brightness.against_reference_db,
            decibels(brightness.against_reference_db),
        ),
        (_("Tone above noise"), stroke.harmonicity_db, decibels(stroke.harmonicity_db)),
    ]
    return [(name, text) for name, value, text in rows if value is not None]


def _settling(stroke: Stroke) -> str:
    onset = stroke.onset
    if onset.settling_ms is None:
        return ""
    text = with_unit(onset.settling_ms, "ms")
    if onset.uncertainty_ms:
        text = _("{time}, give or take {uncertainty}").format(
            time=text, uncertainty=with_unit(onset.uncertainty_ms, "ms")
        )
    if onset.grade:
        text = _("{time} ({grade})").format(time=text, grade=_(GRADES[onset.grade]))
    return text
