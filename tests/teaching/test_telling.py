"""What is told of a stroke agrees with the advice; the rules are the project's own (advice.LEAST_S)."""

from __future__ import annotations

import pytest

from colophony.listening.take import Evidence, Span, ToneState
from colophony.teaching.advice import judge
from colophony.teaching.telling import (
    is_quiet,
    states_in_turn,
    states_shown,
    told_spans,
    told_state,
    tone_sentence,
)
from factories import make_stroke, make_take

STEADY, PRESSED, NOISE, UNSURE = ToneState.STEADY, ToneState.RAUCOUS, ToneState.NOISE, ToneState.UNSURE


def test_a_stroke_tells_the_states_it_went_through_in_turn() -> None:
    """Pressed, then steady: both are said, in order; a flicker of a tenth of a second is not."""
    spans = (
        Span(0.0, 0.5, PRESSED, 0.9),
        Span(0.5, 0.6, NOISE, 0.9),
        Span(0.6, 1.0, PRESSED, 0.9),
        Span(1.0, 2.0, STEADY, 0.9),
    )
    assert states_in_turn(make_stroke(0, 2, spans=spans)) == [PRESSED, STEADY]
    assert states_in_turn(make_stroke(0, 2, spans=())) == [STEADY]
    assert states_in_turn(make_stroke(0, 2, state=UNSURE, spans=spans)) == [UNSURE]


@pytest.mark.parametrize(("seconds", "confidence"), [(0.22, 0.9), (0.8, 0.6), (0.3, 0.9), (0.8, 0.7)])
@pytest.mark.parametrize("evidence", [(), (Evidence("two_pitches", {}),)])
def test_a_fault_is_shown_just_where_advice_is_given(
    seconds: float, confidence: float, evidence: tuple[Evidence, ...]
) -> None:
    """A headline that calls all strokes steady never stands above a picture that calls one pressed."""
    spans = (
        Span(0.0, 1.0, STEADY, 0.9),
        Span(1.0, 1.0 + seconds, PRESSED, confidence),
        Span(1.0 + seconds, 3.0, STEADY, 0.9),
    )
    stroke = make_stroke(0, 3, spans=spans, evidence=evidence)
    findings = judge(make_take(stroke))
    assert (PRESSED in states_in_turn(stroke)) is bool(findings.advice[0])
    assert (PRESSED in states_shown(findings.take)) is bool(findings.advice[0])
    assert any(span.state is PRESSED for span in told_spans(stroke)) is bool(findings.advice[0])
    assert ("pressed" in tone_sentence(stroke).adult) is bool(findings.advice[0])


def test_a_faulty_stroke_without_advice_is_unsure() -> None:
    """What the headline counts as not judged, the list does not call pressed."""
    stroke = make_stroke(0, 2, state=PRESSED, confidence=0.5, spans=(Span(0, 2, PRESSED, 0.5),))
    findings = judge(make_take(stroke))
    assert "could not be judged" in findings.summary.headline.adult
    assert told_state(stroke) is UNSURE
    assert states_in_turn(stroke) == [UNSURE]


def test_the_sentence_of_a_mixed_stroke_says_how_much_and_what_the_rest_was() -> None:
    """A teacher who hears a mostly good stroke must not read that it was pressed and no more."""
    spans = (Span(0.0, 2.5, STEADY, 0.9), Span(2.5, 3.7, PRESSED, 0.9), Span(3.7, 4.0, UNSURE, 0.0))
    for state in (STEADY, PRESSED):
        say = tone_sentence(make_stroke(0, 4, state=state, spans=spans))
        assert say.adult.endswith("That lasted 1.2 of 4.0 seconds; the rest was steady.")
        assert say.child.endswith("The rest was steady.")


def test_the_unjudged_end_of_a_note_is_quiet() -> None:
    """A note that dies away is no news; a stretch in the middle that could not be judged is."""
    tail, gap = Span(2.4, 3.0, UNSURE, 0.0), Span(1.0, 1.6, UNSURE, 0.0)
    stroke = make_stroke(0, 3, spans=(Span(0, 1.0, STEADY, 0.9), gap, Span(1.6, 2.4, STEADY, 0.9), tail))
    assert is_quiet(tail, stroke)
    assert not is_quiet(gap, stroke)
    quiet = make_stroke(0, 3, spans=(Span(0, 2.4, STEADY, 0.9), tail))
    assert states_shown(make_take(quiet)) == [STEADY]
    assert not is_quiet(tail, make_stroke(0, 3, state=UNSURE, spans=(tail,)))
