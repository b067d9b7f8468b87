"""Settings that show each state of the string, with a sentence each. A test plays every one."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.app.bench.setting import Setting


@dataclass(frozen=True, slots=True)
class Preset:
    """One stroke worth trying: the state that it shows, a name, a sentence on what to notice."""

    state: str
    name: str
    says: str
    setting: Setting


def _violin(
    string: str, distance_mm: float, speed_cm_s: float, weight_n: float, tilt_deg: float = 0.0
) -> Setting:
    return Setting("violin", "4/4", string, "", distance_mm, speed_cm_s, weight_n, tilt_deg)


PRESETS: tuple[Preset, ...] = (
    Preset(
        "helmholtz",
        "A singing tone",
        "Midway between bridge and fingerboard, an even bow: one corner runs round the string.",
        _violin("D", 27.5, 20, 0.8),
    ),
    Preset(
        "multiple-slip",
        "Near the bridge, but light",
        "Close to the bridge the string asks for weight; without it the bow stays on the surface.",
        _violin("D", 9, 20, 0.3),
    ),
    Preset(
        "raucous",
        "Pressed",
        "A slow bow and much weight: the string cannot let go in time.",
        _violin("D", 45, 5, 2.5),
    ),
)
