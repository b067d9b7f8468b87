"""How many operations a step of the string takes: the loop itself, run on numbers that count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any, ClassVar

import numpy as np

from colophony.physics.instruments import find_instrument
from colophony.physics.kernel.body import interpreted
from colophony.physics.kernel.loops import ENDS, HAIR, play_lane
from colophony.physics.kernel.state import _cast
from colophony.physics.player import Model, Player

_STEPS = 50


class _Number:
    """A float that tallies what is done with it."""

    tally: ClassVar[Counter[str]] = Counter()
    __slots__ = ("value",)

    def __init__(self, value: Any) -> None:
        self.value = value.value if isinstance(value, _Number) else float(value)

    def __float__(self) -> float:
        """Count: only `math.sqrt` asks, and `math.copysign` for both of its numbers."""
        self.tally["asked"] += 1
        return self.value

    def __lt__(self, other: Any) -> bool:
        return self.value < _Number(other).value

    def __le__(self, other: Any) -> bool:
        return self.value <= _Number(other).value

    def __gt__(self, other: Any) -> bool:
        return self.value > _Number(other).value

    def __ge__(self, other: Any) -> bool:
        return self.value >= _Number(other).value

    def __abs__(self) -> _Number:
        return _Number(abs(self.value))

    def __neg__(self) -> _Number:
        return _Number(-self.value)


def _counted(name: str, kind: str) -> None:
    method: Callable[[float, float], float] = getattr(float, name)

    def operation(self: _Number, other: Any) -> _Number:
        _Number.tally[kind] += 1
        return _Number(
            method(self.value, _Number(other).value if isinstance(other, _Number) else float(other))
        )

    setattr(_Number, name, operation)


for _name, _kind in (("add", "sums"), ("sub", "sums"), ("mul", "products"), ("truediv", "quotients")):
    for _side in ("", "r"):
        _counted(f"__{_side}{_name}__", _kind)


def operations_a_step() -> dict[str, int]:
    """Return sums, products, quotients and roots of a step of a violin's D string with the full model.

    Each counts as one. Comparisons, absolute values, indices and what is only read or written do not count.
    """
    instrument = find_instrument("violin")
    string = instrument.string("D")
    player = Player(
        instrument, string, frequency_hz=string.open_frequency_hz, model=Model(), samples_per_period=200
    )
    numbers, place = player.numbers, player.place(0.03, 0.0, string.open_frequency_hz)
    points, twist = player.nut, player.design.torsion_points
    hairs, modes = player.model.points, numbers.body.shape[1]

    def zeros(*shape: int) -> Any:
        array = np.empty(shape, object)
        array[...] = [_Number(0.0)]
        return array

    def cast(array: Any) -> Any:
        return np.frompyfunc(_Number, 1, 1)(np.asarray(array))

    nut, tuning, at, torsion_at, torsion_part, shares, roots = place.columns
    out = (zeros(1, 1), zeros(1, 1), zeros(1, 1), zeros(1, hairs, 1))

    def play(steps: int) -> Counter[str]:
        _Number.tally.clear()
        interpreted(play_lane)(
            0, 0, steps, numbers.law, numbers.sections, np.array([steps]), cast([1.0 / steps]),
            nut, cast(tuning), at, torsion_at, cast(torsion_part), cast(shares), cast(roots),
            cast([[0.1], [0.1]]), cast([[1.0], [1.0]]),
            (zeros(points, 1), zeros(points, 1), zeros(twist, 1), zeros(twist, 1)),
            zeros(ENDS + numbers.sections, 1), zeros(modes, 2, 1), cast(numbers.body), zeros(hairs, HAIR, 1),
            _cast(numbers.string, _Number), tuple(_cast(law, _Number) for law in numbers.laws), *out,
        )  # fmt: skip
        return Counter(_Number.tally)

    short, long = play(_STEPS), play(2 * _STEPS)
    counts = {kind: round((long[kind] - short[kind]) / _STEPS) for kind in sorted(long)}
    # A hair asks for two roots and one sign a step.
    asked = counts.pop("asked")
    return {**counts, "roots": asked // 2}
