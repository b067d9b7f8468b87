"""The gallery: what the signs mean, and every component in light and dark, on one page.

Its example is invented: no student, no recording.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from markupsafe import Markup

from colophony.app.look.stylesheet import stylesheet as whole_stylesheet
from colophony.app.look.templates import environment
from colophony.app.look.tokens import DARK, HUE, LIGHT, SIZES_REM, Theme
from colophony.listening.take import (
    Brightness,
    Direction,
    Onset,
    Span,
    Steadiness,
    Stroke,
    Take,
    ToneState,
    Track,
)
from colophony.teaching.findings import Advice, Say
from colophony.teaching.wording import STATES

#: Of the invented take: start and end in s, note, bow, and spans as (end in s, state).
_EXAMPLE: tuple[tuple[float, float, str, Direction | None, tuple[tuple[float, ToneState], ...]], ...] = (
    (0.3, 1.5, "D4", "down", ((1.5, ToneState.HELMHOLTZ),)),
    (1.5, 2.7, "D4", "up", ((1.9, ToneState.HELMHOLTZ), (2.7, ToneState.MULTIPLE_SLIP))),
    (2.7, 4.0, "E4", "down", ((3.0, ToneState.RAUCOUS), (4.0, ToneState.STEADY))),
    (4.0, 5.2, "F#4", "up", ((5.2, ToneState.RAUCOUS),)),
    (5.6, 6.9, "G4", "down", ((6.2, ToneState.LOW_ANOMALOUS), (6.9, ToneState.HELMHOLTZ))),
    (6.9, 7.9, "A4", "up", ((7.9, ToneState.NOISE),)),
    (8.3, 9.6, "D5", None, ((9.6, ToneState.PLUCKED),)),
    (9.9, 11.2, "A4", "down", ((11.2, ToneState.UNSURE),)),
)

_ADVICE = (
    Advice(
        "weight",
        "less",
        "",
        Say(
            "Let the bow lie on the string like a sleeping cat: heavy, but not pushing.",
            "Let go of some weight: the string wants to leave the bow and cannot.",
            "Less weight, same speed and place.",
        ),
    ),
    Advice(
        "distance",
        "nearer",
        "",
        Say(
            "Move the bow a finger's width towards the bridge.",
            "Bow a little nearer to the bridge.",
            "Half a sounding point nearer the bridge.",
        ),
    ),
    Advice("speed", "more", "", Say("Use more bow.", "Use a faster bow.", "More speed at this weight.")),
    Advice("tilt", "flatter", "", Say("Flat hair.", "Use all the hair.", "Flatten the hair.")),
)


def example_take() -> Take:
    """Return an invented take of 11.6 s that holds every tone state."""
    times = np.arange(0, 11.6, 0.01, dtype=np.float32)
    peak = np.zeros_like(times)
    strokes = []
    for start_s, end_s, name, bow, parts in _EXAMPLE:
        inside = (times >= start_s) & (times < end_s)
        share = (times[inside] - start_s) / (end_s - start_s)
        swell = np.exp(-3 * share) if bow is None else np.sin(np.pi * share.clip(0.02, 0.98)) ** 0.35
        peak[inside] = 0.5 * swell * (0.4 if parts[-1][1] in {ToneState.NOISE, ToneState.UNSURE} else 1.0)
        ends = [start_s, *(end for end, _ in parts)]
        spans = tuple(Span(ends[k], end, state, 0.9) for k, (end, state) in enumerate(parts))
        strokes.append(
            Stroke(
                start_s=start_s,
                end_s=end_s,
                note=name,
                frequency_hz=None,
                cents=None,
                state=max(spans, key=lambda span: span.end_s - span.start_s).state,
                confidence=0.9,
                spans=spans,
                bow=bow,
                way=None,
                reversal=False,
                onset=Onset(None, None, None, "unknown", None),
                steadiness=Steadiness(None, None, None, None),
                brightness=Brightness(None, None, None),
                harmonicity_db=None,
            )
        )
    track = Track(times, np.zeros_like(times), np.full_like(times, -20.0), peak)
    return Take("invented-example.wav", 11.6, 440.0, "violin", tuple(strokes), (), track)


def render_meanings(*, stylesheet: str, pages: Sequence[Mapping[str, str]]) -> str:
    """Return the page for a studio's people: what the signs, the picture and the bowing place mean.

    ``stylesheet`` is the address of the style sheet, ``pages`` are those that the head of the page names.
    """
    return _render(stylesheet=stylesheet, pages=pages, themes=())


def render_gallery(*, stylesheet: str | None = None) -> str:
    """Return the gallery as one HTML page: the meanings, and every part of a page.

    ``stylesheet`` is the address of the style sheet; without one the page carries it inside and works alone.
    """
    return _render(stylesheet=stylesheet, pages=(), themes=(LIGHT, DARK))


def _render(*, stylesheet: str | None, pages: Sequence[Mapping[str, str]], themes: tuple[Theme, ...]) -> str:
    inside = None if stylesheet else Markup(whole_stylesheet(fonts=None))
    return (
        environment()
        .get_template("gallery.html.j2")
        .render(
            stylesheet=stylesheet,
            css=inside,
            meanings=[(state, STATES[state][1]) for state in STATES],
            themes=themes,
            pages=pages,
            hues=HUE,
            sizes=list(SIZES_REM),
            take=example_take(),
            advices=_ADVICE,
        )
    )
