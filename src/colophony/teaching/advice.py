"""From what the string did to what to change: find the one fault of each stroke and say its cures.

Sound alone seldom tells two cures apart, so the two best are both named, with a small test. Advice is
given only on evidence: a fault must hold for `LEAST_S` at `LEAST_CONFIDENCE`, and nothing is said against
what is steady, clear, plucked or unsure. See docs/decisions/0030 and 0031.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Literal

from colophony.errors import InputError
from colophony.language import SOURCE, _
from colophony.listening.take import CLEAN, INSTRUMENTS, Instrument, Span, Stroke, Take, ToneState
from colophony.physics.strings import find_string, strings_of
from colophony.teaching import wording
from colophony.teaching.faults import (
    FAULTS,
    cures_by_reference,
    ordered_cures,
)
from colophony.teaching.findings import Advice, Findings, Say, Summary, in_every_language, said
from colophony.teaching.own_sound import Against, Comparison, against, evidence_of
from colophony.teaching.reasons import Occurrence, Place, place_of, why
from colophony.teaching.room import AskRooms, Rooms, published_rooms
from colophony.teaching.sounding_points import point_width_m
from colophony.teaching.wording.summary import Counts

#: A tone fault must last this long: a roughness held for 0.2 s is rarely a false alarm, a shorter one often.
LEAST_S = 0.25
#: Listening gives 0.6 to what it infers only (a tone that thins, roughness without a pitch), and more to
#: three votes of five for roughness.
LEAST_CONFIDENCE = 0.62
#: Colour differs from the reference by less than this through speed, place and dynamics alone. Chosen, not
#: measured: wide on purpose.
COLOUR_DB = 6.0
COLOUR_LEAST_S = 0.5
#: A roughness that is over by then, in a stroke whose start was slow, is the start's.
START_S = 0.4

#: The fault that a tone state is.
FAULT_OF_STATE: Mapping[ToneState, str] = MappingProxyType(
    {
        ToneState.RAUCOUS: "pressed",
        ToneState.LOW_ANOMALOUS: "groaning",
        ToneState.MULTIPLE_SLIP: "surface",
        ToneState.NOISE: "no-tone",
    }
)
_FAULT_OF_START: Mapping[str, str] = MappingProxyType(
    {"creaking": "creaking-start", "slipping": "slipping-start"}
)
_NOT_JUDGED = (ToneState.PLUCKED, ToneState.UNSURE)
#: Evidence under which a tone verdict is no ground for advice.
_DOUBTS = frozenset({"two_pitches", "many_players", "many_reversals", "edge_of_range"})


Found = list[Occurrence | None]  # one entry for each stroke


def judge(
    take: Take,
    *,
    instrument: Instrument | None = None,
    size: str = "4/4",
    string: str | None = None,
    rooms: AskRooms = published_rooms,
    comparison: Comparison | None = None,
) -> Findings:
    """Return a take with advice for each stroke and one thing to work on.

    Parameters
    ----------
    take : what was heard
    instrument : whose strings give the figures; the take's own when None, no figures when neither is known
    size : "4/4", "3/4", ...
    string : the string played on; by default the one that needs the lowest position
    rooms : tells how much room a note has in the middle of the bowing room; asked only about faults of tone
    comparison : the player's own strokes at marked places, which tell causes apart

    Raises `InputError` when the instrument has no such size or string, or a string comes without an
    instrument.
    """
    chosen = instrument or take.instrument
    if chosen is not None:
        if chosen not in INSTRUMENTS:
            raise InputError(
                _("{given!r} has no advice here: choose one of {known}").format(
                    given=chosen, known=", ".join(INSTRUMENTS)
                )
            )
        strings_of(chosen, size, a4_hz=take.a4_hz)
        if string is not None:
            find_string(chosen, size, string, a4_hz=take.a4_hz)
    elif string is not None:
        raise InputError(
            _("string {name!r} needs its instrument: choose violin, viola or cello").format(name=string)
        )
    differences = [against(stroke, comparison) if comparison else None for stroke in take.strokes]
    take = replace(take, strokes=tuple(map(_with_difference, take.strokes, differences)))
    warned = {warning.kind for warning in take.warnings}
    found = [
        None if "not_one_string" in warned else find_fault(stroke, noisy="noisy" in warned)
        for stroke in take.strokes
    ]
    advice = tuple(
        _advise(occurrence, stroke, place_of(stroke, chosen, size, string, take.a4_hz), rooms, difference)
        if occurrence
        else ()
        for stroke, occurrence, difference in zip(take.strokes, found, differences, strict=True)
    )
    return Findings(take, advice, _summary(take, found, advice))


def _with_difference(stroke: Stroke, difference: Against | None) -> Stroke:
    if difference is None:
        return stroke
    return replace(stroke, evidence=stroke.evidence + evidence_of(difference))


def find_fault(stroke: Stroke, *, noisy: bool = False) -> Occurrence | None:
    """Return the one thing that is wrong with a stroke beyond doubt, or None: tone, start or colour.

    One, because every fault asks for a change of weight: two would repeat or contradict each other. Of
    several tone faults the longest counts; a roughness that ends with the start belongs to the start.
    ``noisy`` says that the room's noise is near the tone, so that hair noise cannot be told from it.
    """
    if stroke.state in _NOT_JUDGED or any(item.kind in _DOUBTS for item in stroke.evidence):
        return None
    tone = max(_tone_faults(stroke, noisy), key=lambda fault: fault.seconds, default=None)
    start = _start(stroke)
    if tone and start and tone.end_s <= stroke.start_s + max(start.seconds, START_S):
        tone = None
    return tone or start or _colour(stroke)


def has_tone_fault(stroke: Stroke, state: ToneState) -> bool:
    """Tell whether a stroke held a faulty tone state long and surely enough to speak of it."""
    if any(item.kind in _DOUBTS for item in stroke.evidence):
        return False
    return any(found.fault.name == FAULT_OF_STATE[state] for found in _tone_faults(stroke, False))


def clean_share(take: Take) -> float | None:
    """Return the share of bowed and judged time that was clear or steady, 0 to 1; None without any."""
    clean = judged = 0.0
    for stroke in take.strokes:
        if stroke.state is ToneState.PLUCKED:
            continue
        for span in _spans(stroke):
            if span.state not in _NOT_JUDGED:
                judged += span.end_s - span.start_s
                clean += span.end_s - span.start_s if span.state in CLEAN else 0.0
    return clean / judged if judged > 0 else None


def _spans(stroke: Stroke) -> tuple[Span, ...]:
    return stroke.spans or (Span(stroke.start_s, stroke.end_s, stroke.state, stroke.confidence),)


def _tone_faults(stroke: Stroke, noisy: bool) -> list[Occurrence]:
    found = []
    for state, name in FAULT_OF_STATE.items():
        held = [
            span for span in _spans(stroke) if span.state is state and span.confidence >= LEAST_CONFIDENCE
        ]
        seconds = sum(span.end_s - span.start_s for span in held)
        if seconds >= LEAST_S and not (noisy and name == "no-tone"):
            confidence = min(span.confidence for span in held)
            found.append(Occurrence(FAULTS[name], seconds, confidence, held[0].start_s, held[-1].end_s))
    return found


def _start(stroke: Stroke) -> Occurrence | None:
    onset = stroke.onset
    name = _FAULT_OF_START.get(onset.kind)
    if name is None or onset.within_limit is not False or stroke.confidence < LEAST_CONFIDENCE:
        return None
    seconds = (onset.settling_ms or 0.0) / 1000.0
    return Occurrence(FAULTS[name], seconds, stroke.confidence, stroke.start_s, stroke.start_s + seconds)


def _colour(stroke: Stroke) -> Occurrence | None:
    difference_db, seconds = stroke.brightness.against_reference_db, stroke.end_s - stroke.start_s
    if difference_db is None or abs(difference_db) < COLOUR_DB:
        return None
    if stroke.state not in CLEAN or stroke.confidence < LEAST_CONFIDENCE or seconds < COLOUR_LEAST_S:
        return None
    fault = FAULTS["brighter" if difference_db > 0 else "duller"]
    return Occurrence(fault, seconds, stroke.confidence, stroke.start_s, stroke.end_s)


def _advise(
    occurrence: Occurrence,
    stroke: Stroke,
    place: Place | None,
    ask: AskRooms,
    difference: Against | None,
) -> tuple[Advice, ...]:
    fault = occurrence.fault
    rooms = None
    if place is not None:
        rooms = (ask if fault.kind == "tone" else published_rooms)(place.string, place.frequency_hz)
    cures = ordered_cures(fault, shortened=place.shortened if place else 1.0, rooms=rooms)
    if difference is not None:
        cures = cures_by_reference(fault, cures, difference)
    changes = [change for change, _ in cures]
    reason = in_every_language(lambda: why(occurrence, stroke, place, rooms, cures))
    known = _figures(place, rooms) if place and rooms else None
    advice = []
    for index, (variable, turn) in enumerate(changes):
        say = wording.cure(fault.name, variable, turn, figures=known)
        test = None
        if index == 0 and len(changes) == 2:
            # Speed or place alone is easier to change, and to watch, than weight alone.
            tried = next((change for change in changes if change[0] != "weight"), changes[0])
            other = changes[1] if tried == changes[0] else changes[0]
            test = wording.cause_test(fault.name, tried, other)
            say = _join(say, test)
        elsewhere = {name: text for name, text in reason.items() if name != SOURCE}
        advice.append(Advice(variable, turn, reason[SOURCE], say, fault.name, test, elsewhere))
    return tuple(advice)


def _join(first: Say, second: Say) -> Say:
    return said(lambda reader: f"{first.to(reader)} {second.to(reader)}")


def _figures(place: Place, rooms: Rooms) -> wording.Figures:
    weight_n = rooms.here.weight_n
    return wording.Figures(
        lane_mm=1000.0 * point_width_m(place.string, frequency_hz=place.frequency_hz),
        place_mm=place.middle_mm,
        weight_n=None if weight_n is None else weight_n[1] / 4.0,
        wander=rooms.wander,
    )


def _summary(take: Take, found: Found, advice: tuple[tuple[Advice, ...], ...]) -> Summary:
    lasted_ms: Counter[str] = Counter()
    strokes: Counter[str] = Counter()
    for occurrence in found:
        if occurrence:
            # Colour comes last: it is no fault of the string, however long it lasts.
            ms = 0 if occurrence.fault.kind == "colour" else round(1000 * occurrence.seconds)
            lasted_ms[occurrence.fault.name] += ms
            strokes[occurrence.fault.name] += 1
    faults = tuple((name, strokes[name]) for name, _ in lasted_ms.most_common())
    main = _main_advice(faults[0][0], found, advice) if faults else None
    counts = _count(take, found, faults)
    return Summary(
        clean_share(take),
        len(take.strokes),
        main,
        wording.headline(counts),
        wording.check_at_home(main.fault if main else None, judged=counts.judged > 0),
    )


def _main_advice(name: str, found: Found, advice: tuple[tuple[Advice, ...], ...]) -> Advice:
    """Return the first advice against a fault from the (first) stroke in which it lasted longest."""
    lasted = [
        round(occurrence.seconds, 3) if occurrence and occurrence.fault.name == name else -1.0
        for occurrence in found
    ]
    return advice[lasted.index(max(lasted))][0]


def _count(take: Take, found: Found, faults: tuple[tuple[str, int], ...]) -> Counts:
    good = faulty = unjudged = plucked = 0
    for stroke, occurrence in zip(take.strokes, found, strict=True):
        if stroke.state is ToneState.PLUCKED:
            plucked += 1
        elif occurrence:
            faulty += 1
        elif stroke.state in CLEAN:
            good += 1
        else:
            unjudged += 1
    clean = {stroke.state for stroke in take.strokes if stroke.state in CLEAN}
    word: Literal["clear", "steady"] = "clear" if clean == {ToneState.HELMHOLTZ} else "steady"
    return Counts(good + faulty, good, unjudged, plucked, faults, word)
