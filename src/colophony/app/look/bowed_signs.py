"""Signs of the states that a simulation tells: those of a take, and two that no recording shows.

S-motion is one tooth a period whose rise bends (drawn after the bow-point motion that E. Schoonderwaldt,
K. Guettler and A. Askenfelt, Acta Acust. u. Acust. 94(4), 2008, describe: one slip a period, one high
partial strong). A string that is choked hardly moves: a line.
"""

from __future__ import annotations

import math

from colophony.app.look.signs import SIGNS, Line, path_of, sign_path
from colophony.app.look.tokens import Theme
from colophony.listening.take import ToneState
from colophony.teaching.wording.bowed import CHOKED, S_MOTION

_WIDTH, _HEIGHT, _SIDE = 64.0, 24.0, 3.0


def _bent_tooth() -> Line:
    """Four periods of a slow rise with a ripple of four waves, each with a fast fall."""
    points = []
    for period in range(4):
        for i in range(33):
            x = i / 32
            points.append((2 * period + 1.76 * x, 1.7 * x - 0.85 - 0.22 * math.sin(8 * math.pi * x)))
    points.append((8.0, -0.85))
    return tuple(points)


_OWN: dict[str, Line] = {S_MOTION: _bent_tooth(), CHOKED: ((0.0, 0.0), (8.0, 0.0))}


def bowed_sign_path(state: str) -> str:
    """SVG path data of a simulated state's sign in a box of 64 by 24 units, as `signs.sign_path`.

    Raises `ValueError` for a name that is no state.
    """
    if state not in _OWN:
        return sign_path(ToneState(state))
    scale, middle, reach = (_WIDTH - 2 * _SIDE) / 8.0, _HEIGHT / 2, _HEIGHT / 2 - _SIDE
    return path_of([(_SIDE + scale * x, middle - reach * y) for x, y in _OWN[state]])


def bowed_colour(state: str, theme: Theme) -> str:
    """The colour of a simulated state; those no take shows stay in ink, like *steady*."""
    return theme.states[ToneState.STEADY if state in _OWN else ToneState(state)]


def is_heavy(state: str) -> bool:
    """Whether the sign is of dots, which are drawn thicker than lines."""
    return state not in _OWN and SIGNS[ToneState(state)].heavy
