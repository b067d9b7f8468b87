"""The engine plays a demonstration: of the tries, the first under which the string shows what is said.

Every stroke that a room sees and hears comes from here: a simulation of this very string, read by the same
rules as on the bench. Where no try shows what is said the demonstration says so (`Shown.is_true`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from colophony.app.bow import RATE_HZ, Bowed, Request, bow, levelled, render, settle
from colophony.app.talk.sequence import Talk
from colophony.physics.strings import BowedString, find_string, sizes_of, strings_of
from colophony.teaching.demonstrations import Demonstration, Stroke, find_demonstration
from colophony.teaching.room import weight_range_n
from colophony.teaching.sounding_points import point_to_m
from colophony.teaching.wording.bowed import told_state

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from colophony.physics.motion import Motion

#: How long a stroke is heard, s; longer where the bow sets out slowly: at full speed for this long at least,
#: and for so many vibrations.
SECONDS = 2.0
_SETTLED_S, _SETTLED_PERIODS = 0.5, 80
#: For so much of the time the string must do what is said: a thin tone may clear up before its end.
_PREVAILS, _SPAN_PERIODS = 0.6, 16
#: Of a motion so many periods are kept: its last ones, or its first ones where the start is the point.
_KEPT_PERIODS = 16
#: A weight beyond which no try goes: the greatest that the engine plays, N.
_GREATEST_N = 20.0
#: Sizes whose strings are so much shorter than full size that the same bow tells them apart (by trying).
_SMALL = {"violin": ("1/8", "1/10", "1/16"), "viola": ("1/4",), "cello": ("1/8", "1/4")}


@dataclass(frozen=True, slots=True, eq=False)
class PlayedStroke:
    """One stroke of a demonstration, as it was played."""

    stroke: Stroke
    bowed: Bowed
    fits: int  #: 2: shows what is said; 1: nearly; 0: does not
    #: [n] at `RATE_HZ`, at a safe level: loud strokes peak no higher than clear ones. Empty for a try.
    sound: NDArray[np.float32]

    @property
    def state(self) -> str:
        """The state's name, as it is told."""
        return self.bowed.told_state


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """A demonstration on one string, played."""

    demonstration: Demonstration
    strokes: tuple[PlayedStroke, ...]

    @property
    def is_true(self) -> bool:
        """Whether every stroke shows what the words say."""
        return all(one.fits > 0 for one in self.strokes)


def play_demonstration(talk: Talk, key: str) -> Shown:
    """Return a demonstration of a talk, played; the same on the same string is played once.

    Raises `InputError` for a key that is none.
    """
    find_demonstration(key)
    return _play(talk.instrument, talk.size, talk.string, key)


@lru_cache(maxsize=24)
def _play(instrument: str, size: str, string: str, key: str) -> Shown:
    demonstration = find_demonstration(key)
    bowed = find_string(instrument, size, string)
    played: list[PlayedStroke] = []
    for group in _groups(demonstration.strokes):
        played += _best(bowed, group)
    return Shown(demonstration, tuple(played))


def _groups(strokes: Sequence[Stroke]) -> Iterator[list[Stroke]]:
    """Yield strokes with those that keep their weight, place and speed."""
    group: list[Stroke] = []
    for stroke in strokes:
        if group and not stroke.is_held:
            yield group
            group = []
        group.append(stroke)
    yield group


def _best(string: BowedString, group: Sequence[Stroke]) -> list[PlayedStroke]:
    """Return the first try in which every stroke of a group shows what is said, else the best one."""
    best: list[PlayedStroke] = []
    best_fits = -1
    for share, ramp in product(group[0].shares, group[0].ramps):
        tried: list[PlayedStroke] = []
        first: Request | None = None
        for stroke in group:
            request = _request(string_of(string, stroke), stroke, share, ramp, held=first)
            first = first or request
            tried.append(_tried(stroke, request))
            if tried[-1].fits == 0 and best:
                break
        fits = min(one.fits for one in tried) if len(tried) == len(group) else -1
        if fits > best_fits:
            best, best_fits = tried, fits
        if best_fits == 2:
            break
    return [_kept(one) for one in best]


def _kept(one: PlayedStroke) -> PlayedStroke:
    """Return a stroke with its sound, and of its motion only what is drawn: a talk has dozens of them."""
    motion = one.bowed.motion
    sound = levelled(one.bowed, render(one.bowed))[0].astype(np.float32)
    if one.stroke.start is None:
        shown = motion.last(_KEPT_PERIODS)
    else:
        first_s = (one.bowed.start.first_slip_s or 0.0) - 2.0 / motion.frequency_hz
        shown = cut(motion, first_s, _KEPT_PERIODS)
    names = ("bow_speed_m_s", "weight_n", "velocity_m_s", "slipping", "bridge_force_n", "sound")
    copies: dict[str, Any] = {name: getattr(shown, name).copy() for name in names}
    return replace(one, bowed=replace(one.bowed, motion=replace(shown, **copies)), sound=sound)


def cut(motion: Motion, from_s: float, periods: int) -> Motion:
    """Return so many periods of a motion from a time on, in s since the bow touched the string."""
    first = max(0, round((from_s - motion.start_s) * motion.rate_hz))
    after = first + periods * motion.samples_per_period
    names = ("bow_speed_m_s", "weight_n", "velocity_m_s", "slipping", "bridge_force_n", "sound")
    parts: dict[str, Any] = {name: getattr(motion, name)[first:after] for name in names}
    return replace(motion, start_s=motion.start_s + first / motion.rate_hz, **parts)


def string_of(string: BowedString, stroke: Stroke) -> BowedString:
    """Return the string that a stroke is played on, in a talk on another."""
    if stroke.instrument is not None:
        return strings_of(stroke.instrument, "4/4")[0]
    if stroke.which == "full":
        return find_string(string.instrument, "4/4", string.name)
    if stroke.which == "small":
        small = _SMALL[string.instrument]
        return find_string(string.instrument, string.size if string.size in small else small[0], string.name)
    assert string.size in sizes_of(string.instrument)
    return string


def _request(
    string: BowedString, stroke: Stroke, share: float, ramp: float, *, held: Request | None
) -> Request:
    """Return a try as a stroke in a player's units; a held one keeps all but string and tilt."""
    if held is not None:
        return replace(
            held, instrument=string.instrument, size=string.size, string=string.name, tilt_deg=stroke.tilt_deg
        )
    distance_m = point_to_m(stroke.point, string)
    _, greatest_n = weight_range_n(
        string, beta=distance_m / string.sounding_length_m, speed_m_s=stroke.speed_cm_s / 100.0
    )
    request = settle(
        Request(
            instrument=string.instrument,
            size=string.size,
            string=string.name,
            distance_mm=round(1000.0 * distance_m, 1),
            speed_cm_s=stroke.speed_cm_s,
            weight_n=float(f"{min(share * greatest_n, _GREATEST_N):.2g}"),
            tilt_deg=stroke.tilt_deg,
        ),
        string,
    )
    assert request.start_ms is not None
    return replace(request, start_ms=float(round(max(1.0, request.start_ms * ramp))))


def _tried(stroke: Stroke, request: Request) -> PlayedStroke:
    """Return a try at the length in which it is heard."""
    assert request.start_ms is not None
    least_s = request.start_ms / 1000.0 + max(_SETTLED_S, _SETTLED_PERIODS / _hz(request))
    bowed = bow(replace(request, seconds=max(SECONDS, least_s)))
    fits = _fits(stroke, bowed)
    if fits > 0 and stroke.start is None and _share_of_time(stroke, bowed) < _PREVAILS:
        fits = 1
    return PlayedStroke(stroke, bowed, fits, np.zeros(0, dtype=np.float32))


def _fits(stroke: Stroke, bowed: Bowed) -> int:
    """Return 2 where the string did what is meant, 1 where nearly, else 0."""
    if bowed.told_state not in stroke.shows or not np.isfinite(bowed.motion.bridge_force_n).all():
        return 0
    start = bowed.start
    if stroke.start is None:
        return 2
    if stroke.start == "clean":
        return 2 if start.kind == "clean" else int(start.accepted is True)
    if start.kind != stroke.start:
        return 0
    return 1 if start.accepted is True else 2


def _share_of_time(stroke: Stroke, bowed: Bowed) -> float:
    """Return for how much of the time at full speed the string did what is meant, 0 to 1."""
    from colophony.physics.regimes import spans

    assert bowed.request.start_ms is not None
    begin_s = bowed.request.start_ms / 1000.0
    meant = whole = 0.0
    for span in spans(bowed.motion, periods=_SPAN_PERIODS):
        length_s = max(0.0, span.end_s - max(span.start_s, begin_s))
        whole += length_s
        meant += length_s if _told(bowed, str(span.state)) in stroke.shows else 0.0
    return meant / whole if whole > 0.0 else 0.0


def _told(bowed: Bowed, state: str) -> str:
    """Return a state of some moment as it is told, like `Bowed.told_state` for the end."""
    _, greatest_n = weight_range_n(
        bowed.string, beta=bowed.motion.beta, speed_m_s=bowed.request.speed_cm_s / 100.0
    )
    return told_state(state, weight_n=bowed.request.weight_n or 0.0, greatest_n=greatest_n)


def _hz(request: Request) -> float:
    assert request.string is not None
    return find_string(request.instrument, request.size, request.string).open_frequency_hz


__all__ = ["RATE_HZ", "SECONDS", "PlayedStroke", "Shown", "cut", "play_demonstration", "string_of"]
