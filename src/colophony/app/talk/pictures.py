"""The pictures of a demonstration: the string in motion, the string under the hair, the map, the bars.

What moves carries its motion beside it. All strokes of a demonstration are drawn on one scale.
"""

from __future__ import annotations

import numpy as np

from colophony.app.bench.answer import Answer
from colophony.app.bench.pictures import Scale, moving, scale_of, string_picture
from colophony.app.bench.setting import Setting
from colophony.app.talk.marks import Scene
from colophony.app.talk.places import map_scene, rooms_scene
from colophony.app.talk.played import PlayedStroke, Shown
from colophony.app.talk.sequence import Talk
from colophony.app.talk.traces import trace_scenes

#: One vibration of the string takes so long on the wall, ms.
_VIBRATION_MS = 3000.0
#: Points of the string that are sent, at most.
_MOST_POINTS = 121


def scenes_of(talk: Talk, shown: Shown) -> list[Scene]:
    """Return a picture for each stroke of a demonstration, and its last one if it has any.

    The map is one picture for all its strokes.
    """
    kind = shown.demonstration.picture
    if kind == "map":
        scenes = [map_scene(talk, shown.strokes)]
    elif kind == "string":
        answers = [Answer(_setting(one), one.bowed) for one in shown.strokes]
        scale = scale_of(answers)
        scenes = [_string_scene(answer, scale) for answer in answers]
    else:
        scenes = trace_scenes(shown.strokes, is_start=kind == "start")
    return [*scenes, rooms_scene(talk)] if shown.demonstration.rooms else scenes


def _string_scene(answer: Answer, scale: Scale) -> Scene:
    """The bench's drawing of the string from above, with its motion in fewer points."""
    motion = moving(answer, scale)
    last = len(motion["xs"]) - 1
    kept = np.unique(np.linspace(0, last, _MOST_POINTS).round().astype(int)).tolist()
    motion["xs"] = [motion["xs"][i] for i in kept]
    motion["ys"] = [[row[i] for i in kept] for row in motion["ys"]]
    motion["ms"] = 2.0 * _VIBRATION_MS
    slowed = answer.motion.frequency_hz * _VIBRATION_MS / 1000.0
    return Scene(string_picture(answer, scale), motion, slowed, scale.times)


def _setting(one: PlayedStroke) -> Setting:
    request = one.bowed.request
    assert request.string is not None
    assert request.distance_mm is not None
    assert request.weight_n is not None
    return Setting(
        request.instrument,
        request.size,
        request.string,
        "",
        request.distance_mm,
        request.speed_cm_s,
        request.weight_n,
        request.tilt_deg,
    )
