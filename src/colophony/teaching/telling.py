"""What of a stroke is told: the stretches that are sure enough, in order, and the sentence that sums them up.

Picture, list, legend and headline all go by these, so that none shows a fault that another denies.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

from colophony.language import N_, _, figures
from colophony.listening.take import Span, Stroke, Take, ToneState
from colophony.teaching import wording
from colophony.teaching.advice import FAULT_OF_STATE, has_tone_fault
from colophony.teaching.findings import Reader, Say, said

#: A stretch within a stroke that lasts shorter, in s, is left to the picture.
_SHORTEST_S = 0.2
#: A note comes and goes within this time, in s: that its edge is not judged is no news.
_EDGE_S = 1.0


def told_state(stroke: Stroke) -> ToneState:
    """Return the state that a stroke as a whole is shown with: a fault that led to no advice is unsure."""
    return stroke.state if _is_sure(stroke.state, stroke) else ToneState.UNSURE


def told_spans(stroke: Stroke) -> tuple[Span, ...]:
    """Return the stretches of a stroke as they are shown: a fault too short or too doubtful is unsure.

    A stroke without stretches is one.
    """
    whole = Span(stroke.start_s, stroke.end_s, stroke.state, stroke.confidence)
    return tuple(
        span if _is_sure(span.state, stroke) else replace(span, state=ToneState.UNSURE, confidence=0.0)
        for span in stroke.spans or (whole,)
    )


def is_quiet(span: Span, stroke: Stroke) -> bool:
    """Tell whether a stretch that is not judged is only the coming or going of a stroke that is."""
    if span.state is not ToneState.UNSURE or told_state(stroke) is ToneState.UNSURE:
        return False
    seconds = span.end_s - span.start_s
    at_edge = span.start_s <= stroke.start_s + 0.01 or span.end_s >= stroke.end_s - 0.01
    return seconds < _SHORTEST_S or (at_edge and seconds <= min(_EDGE_S, (stroke.end_s - stroke.start_s) / 2))


def states_in_turn(stroke: Stroke) -> list[ToneState]:
    """Return the states that a stroke went through, in order of time, neighbours joined, short ones left out.

    A stroke that is not judged as a whole, or was plucked, has its own state alone.
    """
    own = told_state(stroke)
    if own in {ToneState.UNSURE, ToneState.PLUCKED}:
        return [own]
    kept = (
        span.state
        for span in told_spans(stroke)
        if span.end_s - span.start_s >= _SHORTEST_S and span.state is not ToneState.UNSURE
    )
    return [state for state, _ in groupby(kept)] or [own]


def states_shown(take: Take) -> list[ToneState]:
    """Return the states that a take's picture and list show, in the order of the legend."""
    shown = {state for stroke in take.strokes for state in states_in_turn(stroke)}
    shown |= {
        span.state for stroke in take.strokes for span in told_spans(stroke) if not is_quiet(span, stroke)
    }
    return [state for state in ToneState if state in shown]


#: What else a stroke did, behind the sentence ``{told}`` of its fault.
_AND_THE_REST = Say(
    "{told} The rest was {word}.",
    "{told} That lasted {seconds} of {of} seconds; the rest was {word}.",
    "{told} {seconds} of {of} s; the rest was {word}.",
)
_AND_MOST_OF_THE_REST = Say(
    "{told} Most of the rest was {word}.",
    "{told} That lasted {seconds} of {of} seconds; most of the rest was {word}.",
    "{told} {seconds} of {of} s; most of the rest was {word}.",
)
_ON_THE_SURFACE = N_("on the surface")


def tone_sentence(stroke: Stroke) -> Say:
    """Return what the string did in a stroke; of several things the fault, and what the rest was."""
    turns = set(states_in_turn(stroke))
    lasted = dict.fromkeys(ToneState, 0.0)
    for span in told_spans(stroke):
        lasted[span.state] += span.end_s - span.start_s
    named = max(turns, key=lambda state: (state in FAULT_OF_STATE, lasted[state]))
    others = sorted(turns - {named}, key=lambda state: -lasted[state])
    whole = wording.STATES[named][1]
    if not others:
        return whole
    words = _AND_THE_REST if len(others) == 1 else _AND_MOST_OF_THE_REST

    def told(reader: Reader) -> str:
        return words.to(reader).format(
            told=whole.to(reader),
            seconds=figures(f"{lasted[named]:.1f}"),
            of=figures(f"{stroke.end_s - stroke.start_s:.1f}"),
            word=_(_ON_THE_SURFACE)
            if others[0] is ToneState.MULTIPLE_SLIP
            else wording.state_word(others[0]),
        )

    return said(told)


def _is_sure(state: ToneState, stroke: Stroke) -> bool:
    """The measure of the advice: what could lead to none is not shown as a fault."""
    return state not in FAULT_OF_STATE or has_tone_fault(stroke, state)
