"""The engine plays a setting: what the string did, in words, and what to try when it is not clear."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from colophony.app.bench.setting import Setting, limits_of
from colophony.app.bow import Bowed, Request, bow, levelled, render, short_figures
from colophony.errors import InputError
from colophony.language import _, figures
from colophony.listening.take import ToneState
from colophony.physics.bows import find_bow
from colophony.teaching import wording
from colophony.teaching.faults import FAULTS
from colophony.teaching.findings import Turn, Variable
from colophony.teaching.sounding_points import point_width_m
from colophony.teaching.wording.bowed import FAULT_OF_SIMULATED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from colophony.physics.motion import Motion

#: How long the bow runs before the string is looked at: this long, and at least so many vibrations.
_SECONDS, _PERIODS = 0.3, 80
#: How long a stroke is heard, s.
_SOUND_S = 2.0
CLEAR = ToneState.HELMHOLTZ.value

#: "A little", as the cures' wording says it.
_FACTORS: Mapping[tuple[Variable, Turn], tuple[str, float]] = MappingProxyType(
    {
        ("weight", "less"): ("weight_n", 3 / 4),
        ("weight", "more"): ("weight_n", 4 / 3),
        ("speed", "less"): ("speed_cm_s", 3 / 4),
        ("speed", "more"): ("speed_cm_s", 4 / 3),
    }
)
_MOST_STEPS = 7


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What the string did under one setting."""

    setting: Setting
    bowed: Bowed

    @property
    def motion(self) -> Motion:
        """The motion that the engine computed."""
        return self.bowed.motion

    @property
    def state(self) -> str:
        """The state's name, as it is told."""
        return self.bowed.told_state

    @property
    def word(self) -> str:
        """The state in a word, to stand beside its sign."""
        return self.bowed.word

    @property
    def says(self) -> str:
        """What the string did, in a sentence, and how the note began where there is a tone."""
        return self.bowed.says("adult")

    @property
    def room(self) -> str:
        """How much room there is for weight and place, where the tone is clear; else nothing.

        Computed with the first stroke of a speed on a note, which takes as long as a few dozen strokes.
        """
        return self.bowed.means("adult") if self.is_clear else ""

    @property
    def is_clear(self) -> bool:
        """Whether there is nothing to change."""
        return self.state == CLEAR

    def figures(self) -> list[tuple[str, str]]:
        """Return the figures for those who ask, as (name, value)."""
        reading = self.bowed.reading
        likeness = figures(f"{reading.correlation:.2f}")
        return [*short_figures(self.bowed), (_("How alike the vibrations are, 1 at most"), likeness)]


@dataclass(frozen=True, slots=True)
class Cure:
    """One change that the engine has tried: with ``setting`` the string sings."""

    change: Variable
    direction: Turn
    setting: Setting
    say: str
    proof: str


@lru_cache(maxsize=64)
def play(setting: Setting) -> Answer:
    """Let the engine bow the string steadily and return what it did; the same setting is played once.

    Raises `InputError` for what the engine cannot play.
    """
    bowed = bow(_request(setting, max(_SECONDS, _PERIODS / setting.frequency_hz)))
    if not np.isfinite(bowed.motion.bridge_force_n).all():
        raise InputError(_("This stroke could not be computed: change the bow a little."))
    return Answer(setting, bowed)


@lru_cache(maxsize=8)
def sound_of(setting: Setting) -> tuple[NDArray[np.float64], float]:
    """Return the sound of a whole stroke at `RATE_HZ`, not to be written to, and the gain that suits it, dB.

    The gain is that of `levelled`: a string that hardly moves is not blown up.
    """
    bowed = bow(_request(setting, _SOUND_S))
    sound = render(bowed)
    sound.flags.writeable = False
    return sound, levelled(bowed, sound)[1]


def _request(setting: Setting, seconds: float) -> Request:
    return Request(
        instrument=setting.instrument,
        size=setting.size,
        string=setting.string,
        note=setting.note or None,
        distance_mm=setting.distance_mm,
        speed_cm_s=setting.speed_cm_s,
        weight_n=setting.weight_n,
        tilt_deg=setting.tilt_deg,
        seconds=seconds,
    )


def find_cure(answer: Answer) -> Cure | None:
    """Try the trade's changes one variable at a time, smallest first; return the first that clears the tone.

    None when the tone is clear already, or no single change within reach clears it.
    """
    fault = FAULT_OF_SIMULATED.get(answer.state)
    if answer.is_clear or fault is None:
        return None
    for steps in range(1, _MOST_STEPS + 1):
        for change, direction in FAULTS[fault].cures:
            tried = _changed(answer.setting, change, direction, steps)
            if tried is not None and play(tried).is_clear:
                return _cure(fault, change, direction, tried)
    return None


def _changed(setting: Setting, change: Variable, direction: Turn, steps: int) -> Setting | None:
    """Return the setting a few little changes on; None beyond the limits."""
    if change == "distance":
        lane_mm = 1000 * point_width_m(setting.bowed, frequency_hz=setting.frequency_hz)
        farther = direction == "farther"
        name, value = (
            "distance_mm",
            round(setting.distance_mm + steps * (lane_mm if farther else -lane_mm), 1),
        )
    else:
        name, factor = _FACTORS[change, direction]
        value = float(f"{getattr(setting, name) * factor**steps:.2g}")
    low, high = getattr(limits_of(setting.bowed, setting.frequency_hz), name)
    if not low <= value <= high:
        return None
    values: dict[str, Any] = {name: value}
    return replace(setting, **values)


def _cure(fault: str, change: Variable, direction: Turn, setting: Setting) -> Cure:
    proofs: dict[Variable, str] = {
        "weight": _("Tried here: with {weight} N (about {hand}) the string sings."),
        "speed": _("Tried here: at {speed} cm a second the string sings."),
        "distance": _("Tried here: {distance} mm from the bridge the string sings."),
        "tilt": _("Tried here: at {tilt} degrees the string sings."),
    }
    proof = proofs[change].format(
        weight=figures(f"{setting.weight_n:g}"),
        hand=wording.hand_weight(setting.weight_n),
        speed=figures(f"{setting.speed_cm_s:g}"),
        distance=figures(f"{setting.distance_mm:g}"),
        tilt=figures(f"{setting.tilt_deg:g}"),
    )
    say = wording.cure(fault, change, direction).to("adult")
    return Cure(change, direction, setting, say, proof)


def words_of(setting: Setting) -> dict[str, str]:
    """Return what each variable means to a hand, by the name of its field."""
    point = setting.sounding_point
    hair_cm = 100.0 * find_bow(setting.instrument, setting.size).hair_length_m
    return {
        "distance_mm": _place(point),
        "speed_cm_s": _("{length} cm of hair last {time} s").format(
            length=f"{hair_cm:.0f}", time=figures(f"{hair_cm / setting.speed_cm_s:.1f}")
        ),
        "weight_n": _("presses like {hand}").format(hand=wording.hand_weight(setting.weight_n)),
        "tilt_deg": _tilt(setting.tilt_deg),
    }


def _place(point: float) -> str:
    if point > 5.5:
        return _("over the fingerboard")
    nearest = min(5, max(1, round(point)))
    words = {
        1: _("sounding point {number}, at the bridge"),
        3: _("sounding point {number}, midway"),
        5: _("sounding point {number}, at the fingerboard"),
    }
    return words.get(nearest, _("sounding point {number}")).format(number=nearest)


def _tilt(degrees: float) -> str:
    if degrees < 5:
        return _("flat: all the hair")
    return _("leaning a little") if degrees < 25 else _("leaning, on the edge of the hair")
