"""A take's strokes as a page tells them: a sentence or two, and the numbers for those who ask."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.app.look.figures import cents, decibels, percent, with_unit
from colophony.listening.take import Evidence, Stroke, Take, ToneState
from colophony.teaching import wording
from colophony.teaching.findings import Advice, Findings, Reader, Say
from colophony.teaching.telling import told_state, tone_sentence

_GRADES = {"clean": "clean", "slow": "slow", "very-slow": "very slow"}


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
    words: str = getattr(say, reader)
    return words


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
        ("Frequency", stroke.frequency_hz, with_unit(stroke.frequency_hz, "Hz", 1)),
        ("From equal temperament", stroke.cents, cents(stroke.cents)),
        ("Sure of the state", stroke.confidence, percent(stroke.confidence)),
        ("Until the tone settled", onset.settling_ms, _settling(stroke)),
        ("Swing of level", steadiness.level_swing_db, decibels(steadiness.level_swing_db)),
        ("Swing of pitch", steadiness.pitch_swing_cents, with_unit(steadiness.pitch_swing_cents, "cents")),
        ("Vibrato, times a second", steadiness.vibrato_hz, with_unit(steadiness.vibrato_hz, "Hz", 1)),
        ("Vibrato, to either side", steadiness.vibrato_cents, with_unit(steadiness.vibrato_cents, "cents")),
        ("Middle of the sound", brightness.centroid_hz, with_unit(brightness.centroid_hz, "Hz")),
        (
            "Brighter than the accepted tone",
            brightness.against_reference_db,
            decibels(brightness.against_reference_db),
        ),
        ("Tone above noise", stroke.harmonicity_db, decibels(stroke.harmonicity_db)),
    ]
    return [(name, text) for name, value, text in rows if value is not None]


def _settling(stroke: Stroke) -> str:
    onset = stroke.onset
    if onset.settling_ms is None:
        return ""
    text = with_unit(onset.settling_ms, "ms")
    if onset.uncertainty_ms:
        text += f", give or take {with_unit(onset.uncertainty_ms, 'ms')}"
    return text + (f" ({_GRADES[onset.grade]})" if onset.grade else "")
