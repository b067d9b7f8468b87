"""Settings that show the states that a steady bow usually reaches, a sentence each. A test plays them all."""

from __future__ import annotations

from dataclasses import dataclass

from colophony.app.bench.setting import Setting
from colophony.language import N_


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
        N_("A clear tone"),
        N_("An even bow midway between bridge and fingerboard: one corner runs round the string."),
        _violin("D", 27.5, 20, 0.8),
    ),
    Preset(
        "multiple-slip",
        N_("Near the bridge, light and fast"),
        N_("So near the bridge the string asks for weight or a slow bow; without either it slips twice."),
        _violin("D", 14, 20, 0.35),
    ),
    Preset(
        "helmholtz",
        N_("Near the bridge, slow and heavy"),
        N_("Nearer still, and it speaks: more weight, and little bow."),
        _violin("D", 9, 4, 1),
    ),
    Preset(
        "raucous",
        N_("Near the fingerboard, slow and heavy"),
        N_("Out here the string bears little weight; held down, it lets go whenever it can."),
        _violin("D", 40, 5, 1),
    ),
    Preset(
        "helmholtz",
        N_("Near the fingerboard, light and fast"),
        N_("Farther out still, and it speaks: much bow, little weight."),
        _violin("D", 45, 40, 0.5),
    ),
    Preset(
        "low-anomalous",
        N_("A groan below the note"),
        N_("Very slow, and heavy: the string lets go only at every second or third turn of the corner."),
        _violin("D", 28, 3, 1.1),
    ),
    Preset(
        "noise",
        N_("Hair alone"),
        N_("A bow that hardly lies on the string: the hair passes over it and does not take it along."),
        _violin("D", 27.5, 20, 0.05),
    ),
    Preset(
        "helmholtz",
        N_("A string that is slow to speak"),
        N_("A low, heavy string takes its time: look at when the tone settled, among the figures."),
        Setting("cello", "4/4", "C", "", 60, 15, 3, 0),
    ),
    Preset(
        "multiple-slip",
        N_("Near the cello’s wolf"),
        N_(
            "At this note the body swings so strongly that it takes the string’s motion away. The same bow "
            "clears on F3, a whole tone higher."
        ),
        Setting("cello", "4/4", "C", "D#3", 45, 20, 0.9, 0),
    ),
)
