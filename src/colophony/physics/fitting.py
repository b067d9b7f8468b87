"""Two small fits. scipy.optimize would do; importing it takes longer than a stroke's simulation."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]


def least_squares(off: Callable[[Floats], Floats], start: Floats, *, rounds: int = 200) -> Floats:
    """Return parameters at which the sum of squares of ``off`` is least (Levenberg and Marquardt).

    Parameters
    ----------
    off : parameters [p] to misfits [m]; smooth; parameters of order 1, such as logarithms
    start : [p]; not changed

    J. J. Moré, "The Levenberg-Marquardt algorithm", Lecture Notes in Mathematics 630 (1978), with a damping
    that only grows and shrinks by tens.
    """
    at = np.array(start, float)
    now, damping = off(at), 1e-3
    for _ in range(rounds):
        slope = np.stack([(off(at + step) - now) / 1e-6 for step in 1e-6 * np.eye(len(at))], axis=1)
        square = slope.T @ slope
        while damping < 1e12:
            move = np.linalg.solve(square + damping * np.diag(np.diag(square) + 1e-12), -slope.T @ now)
            then = off(at + move)
            if then @ then <= now @ now:
                break
            damping *= 10
        else:
            return at
        at, now, damping = at + move, then, max(damping / 10, 1e-9)
        if np.abs(move).max() < 1e-9:
            break
    return at


def minimise(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function with one valley between low and high is least, to 1e-6 (golden section)."""
    ratio = (math.sqrt(5) - 1) / 2
    left, right = high - ratio * (high - low), low + ratio * (high - low)
    at_left, at_right = function(left), function(right)
    while high - low > 1e-6:
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - ratio * (high - low)
            at_left = function(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + ratio * (high - low)
            at_right = function(right)
    return 0.5 * (low + high)
