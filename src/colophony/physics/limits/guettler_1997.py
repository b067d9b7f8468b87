"""K. Guettler, A. Askenfelt, "Acceptance limits for the duration of pre-Helmholtz transients in bowed
string attacks", J. Acoust. Soc. Am. 101(5), 2903-2913 (1997).

Twenty advanced players judged starts on the violin's open G (196 Hz). A creaking start was accepted up
to 50 ms, about 10 periods; a slipping start up to 90 ms, about 18 periods. At other pitches the limits
are carried over in periods. Read in two digests that agree.
"""

from __future__ import annotations

from typing import Literal

JUDGED_AT_HZ = 196.0
CREAKING_LIMIT_S, CREAKING_LIMIT_PERIODS = 0.050, 10
SLIPPING_LIMIT_S, SLIPPING_LIMIT_PERIODS = 0.090, 18


def acceptance_limit_s(kind: Literal["creaking", "slipping"], f0: float) -> float:
    """Return the longest accepted time to settled motion in s, for a start of this kind at f0 in Hz."""
    periods = CREAKING_LIMIT_PERIODS if kind == "creaking" else SLIPPING_LIMIT_PERIODS
    return periods / f0


def is_accepted(kind: Literal["creaking", "slipping"], *, settling_s: float, f0: float) -> bool:
    """Return whether a start that took ``settling_s`` seconds at f0 in Hz would have been accepted."""
    return settling_s <= acceptance_limit_s(kind, f0)
