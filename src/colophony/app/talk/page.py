"""The page that a room sees: one template for the studio and for one file that is carried away.

In the studio the page loads its style, script and sounds from there. The file carries all of it inside and
forbids itself the network, like the findings file (docs/decisions/0042).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from markupsafe import Markup

from colophony.app.bench.pictures import sign
from colophony.app.look.alone import data_address, policy
from colophony.app.look.figures import note
from colophony.app.look.stylesheet import stylesheet
from colophony.app.look.templates import environment
from colophony.app.talk.marks import Scene, start_sign
from colophony.app.talk.pictures import scenes_of
from colophony.app.talk.played import RATE_HZ, PlayedStroke, Shown, play_demonstration
from colophony.app.talk.sequence import Talk
from colophony.language import _, figures
from colophony.physics.strings import BowedString
from colophony.teaching.cautions import caution
from colophony.teaching.demonstrations import AUDIENCES, Audience

if TYPE_CHECKING:
    from jinja2 import Environment

#: Template, style and scripts lie with the pages of the studio, which serves them as they are.
_WEB = Path(__file__).parents[1] / "web"
_STYLES = ("talk.css",)
_SCRIPTS = ("string-frame.js", "talk.js")
#: Told how many slides are played, and how many there are.
Progress = Callable[[int, int], None]
_MIME = "audio/mp4"


@dataclass(frozen=True, slots=True)
class Step:
    """One press of the clicker within a slide: a stroke that is heard, or a picture alone."""

    label: str
    sign: Markup | None
    scene: int  #: which of the slide's pictures is seen
    sound: str | None  #: address of its sound
    setting: str  #: what was bowed, in figures, on request


@dataclass(frozen=True, slots=True)
class Slide:
    """One demonstration as the template shows it, in the language of the moment."""

    key: str
    title: str
    sentence: str
    hear: str
    see: str
    ask: str
    notes: tuple[tuple[Audience, str, str], ...]  #: audience, heading, text
    scenes: tuple[Scene, ...]
    steps: tuple[Step, ...]
    is_true: bool


def shown_page(talk: Talk, *, static: str, sounds: str, back: str, progress: Progress | None = None) -> str:
    """Return the talk as a page of the studio.

    Parameters
    ----------
    static : address of the folder of styles and scripts
    sounds : address of the sounds, see `sound_of`
    back : address of the page on which the talk is arranged
    """

    def address(key: str, index: int, one: PlayedStroke) -> str:
        return f"{sounds}?{urlencode(talk.query() | {'slide': key, 'stroke': str(index)})}"

    slides = _slides(talk, address, progress)
    return _render(talk, slides, static=static, style=None, script=None, back=back)


def offline_page(talk: Talk, *, progress: Progress | None = None) -> str:
    """Return the talk as one HTML page that works alone and offline: sounds and motions inside.

    ``progress`` is told after every slide.
    """

    def address(key: str, index: int, one: PlayedStroke) -> str:
        return data_address(_encoded(one), _MIME)

    slides = _slides(talk, address, progress)
    static = _WEB / "static"
    style = "\n".join([stylesheet(fonts=None), *((static / name).read_text("utf-8") for name in _STYLES)])
    script = one_script([(static / name).read_text("utf-8") for name in _SCRIPTS])
    return _render(talk, slides, static="", style=style, script=script, back=None)


def sound_of(talk: Talk, key: str, index: int) -> bytes:
    """Return the sound of one stroke as a WAV file; raises `InputError` for a slide or stroke not there."""
    from colophony.app.wav import wav_bytes
    from colophony.errors import InputError

    shown = play_demonstration(talk, key)
    if not 0 <= index < len(shown.strokes):
        raise InputError(
            _("Stroke {index} is not there: this slide has {count}.").format(
                index=index, count=len(shown.strokes)
            )
        )
    return wav_bytes(shown.strokes[index].sound, rate_hz=RATE_HZ)


def one_script(modules: Sequence[str]) -> str:
    """Return small modules as one script: each may import only those before it, by name."""
    joined = "\n".join(modules)
    joined = re.sub(r"^import .*?;\n", "", joined, flags=re.MULTILINE)
    return re.sub(r"^export ", "", joined, flags=re.MULTILINE)


def _slides(
    talk: Talk, address: Callable[[str, int, PlayedStroke], str], progress: Progress | None
) -> list[Slide]:
    slides = []
    for k, key in enumerate(talk.keys, 1):
        slides.append(_slide(talk, play_demonstration(talk, key), address))
        if progress is not None:
            progress(k, len(talk.keys))
    return slides


def _slide(talk: Talk, shown: Shown, address: Callable[[str, int, PlayedStroke], str]) -> Slide:
    said = shown.demonstration
    scenes = scenes_of(talk, shown)
    is_one = said.picture == "map"
    steps = [
        Step(
            label=_(one.stroke.label),
            sign=_sign(one),
            scene=0 if is_one else k,
            sound=address(said.key, k, one),
            setting=_setting(one),
        )
        for k, one in enumerate(shown.strokes)
    ]
    if said.rooms:
        steps.append(Step(_(said.rooms), None, len(scenes) - 1, None, ""))
    return Slide(
        key=said.key,
        title=_(said.title),
        sentence=_(said.sentence),
        hear=_(said.hear),
        see=_(said.see),
        ask=_(said.ask),
        notes=tuple((name, _(heading), _(getattr(said.notes, name))) for name, heading in AUDIENCES.items()),
        scenes=tuple(scenes),
        steps=tuple(steps),
        is_true=shown.is_true,
    )


def _sign(one: PlayedStroke) -> Markup:
    """Sign, word and colour of what the string did; where the start is the point, of the start.

    A start that players accept as clean is told by the tone that follows.
    """
    if one.stroke.start is not None and one.bowed.start.kind == one.stroke.start:
        return start_sign(one.bowed.start.kind, size=30)
    return sign(one.state, one.bowed.word, size=30)


def _setting(one: PlayedStroke) -> str:
    request = one.bowed.request
    return _(
        "{instrument}, {note}: {distance} mm from the bridge, {speed} cm/s within {start} ms, {weight} N, "
        "tilt {tilt} degrees"
    ).format(
        instrument=f"{instrument_name(request.instrument)} {request.size}",
        note=note(request.note),
        distance=figures(f"{request.distance_mm:g}"),
        speed=figures(f"{request.speed_cm_s:g}"),
        start=figures(f"{request.start_ms:g}"),
        weight=figures(f"{request.weight_n:g}"),
        tilt=figures(f"{request.tilt_deg:g}"),
    )


def instrument_name(name: str) -> str:
    """Return an instrument's name as it begins a line."""
    return {"violin": _("Violin"), "viola": _("Viola"), "cello": _("Cello")}[name]


def string_name(string: BowedString) -> str:
    """Return the string of a talk in words: "Violin 4/4, D string"."""
    return _("{instrument} {size}, {string} string").format(
        instrument=instrument_name(string.instrument), size=string.size, string=string.name
    )


def _encoded(one: PlayedStroke) -> bytes:
    """The sound of a stroke as AAC, by the encoder of the findings file."""
    from colophony.app.report.sound import encode_sound
    from colophony.app.wav import wav_bytes

    with TemporaryDirectory() as folder:
        path = Path(folder) / "stroke.wav"
        path.write_bytes(wav_bytes(one.sound, rate_hz=RATE_HZ))
        return encode_sound(path, duration_s=len(one.sound) / RATE_HZ).content


def _render(
    talk: Talk,
    slides: Sequence[Slide],
    *,
    static: str,
    style: str | None,
    script: str | None,
    back: str | None,
) -> str:
    template = _templates().get_template("talk_show.html.j2")
    return template.render(
        talk=talk,
        title=talk.name or _("How a bowed string sings"),
        string=string_name(talk.bowed),
        slides=slides,
        moving=Markup(_json({slide.key: [scene.moving for scene in slide.scenes] for slide in slides})),
        cautions=[_care_of_loudness(), caution("ears", reader="adult")],
        static=static,
        style=None if style is None else Markup(style),
        script=None if script is None else Markup(script),
        policy=None if style is None or script is None else policy(style, script),
        back=back,
    )


def _care_of_loudness() -> str:
    return _(
        "Set the loudness before the room fills: play the first tone and raise it only as far as the last "
        "row needs. No stroke here peaks above a clear tone."
    )


def _json(value: Any) -> str:
    """JSON that may stand inside of a script element."""
    return json.dumps(value, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")


def _templates() -> Environment:
    return environment(_WEB / "templates")
