"""Page String bench: choose a stroke, see and hear what the string answers, compare two, draw the bow."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from typing import Any, TypeVar

from fastapi import APIRouter
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from colophony.app.bench import PRESETS, Answer, Setting, find_cure, limits_of, play
from colophony.app.bench.answer import sound_of, words_of
from colophony.app.bench.pictures import (
    HOW_TO_READ_SPEED,
    Scale,
    force_picture,
    has_corner,
    moving,
    scale_of,
    sign,
    string_picture,
    velocity_picture,
)
from colophony.app.bench.setting import INSTRUMENTS, choices_of
from colophony.app.bow import RATE_HZ
from colophony.app.phrases import capital
from colophony.app.wav import wav_bytes
from colophony.app.web import bench_map
from colophony.app.web.bench_address import KEPT, link_of, read_pair
from colophony.app.web.desk import desk_of
from colophony.errors import InputError
from colophony.language import N_, _
from colophony.physics.bows import find_bow

router = APIRouter()
_T = TypeVar("_T")

#: Loudspeakers and earphones can hurt where a real string would not; common practice, no source.
CARE = N_(
    "Turn the sound of this device low before the first stroke, most of all with earphones, and raise it "
    "only as far as you need. If your ears ring, rest them; if it comes back, see a doctor."
)
_CONTROLS = (
    ("distance_mm", N_("Contact distance"), "mm", 0.5),
    ("speed_cm_s", N_("Speed"), "cm/s", 0.5),
    ("weight_n", N_("Weight"), "N", 0.02),
    ("tilt_deg", N_("Tilt of the hair"), N_("degrees"), 1.0),
)


@dataclass(slots=True)
class Workbench:
    """One server's engine: strokes are computed one after the other, so that pages stay quick."""

    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    trying: asyncio.Lock = field(default_factory=asyncio.Lock)
    voices: int = 0

    async def work(self, function: Callable[..., _T], *values: Any) -> _T:
        """Return what a function computes in a thread, when it is its turn."""
        async with self.turn:
            return await run_in_threadpool(function, *values)


def workbench_of(request: Any) -> Workbench:
    """Return the workbench of the server that a request or connection reached."""
    bench = request.app.state.workbench
    assert isinstance(bench, Workbench)
    return bench


@router.get("/bench")
async def bench(request: Request) -> Response:
    """Show the bench with the stroke of the address, played; after a mistake the usual one and one line."""
    desk = desk_of(request)
    line = None
    try:
        setting, kept = read_pair(request.query_params)
        answers = await workbench_of(request).work(_play, setting, kept)
    except InputError as error:
        line = str(error)
        setting, kept = Setting.usual(), None
        answers = await workbench_of(request).work(_play, setting, None)
    parts = _parts(request, *answers)
    parts["cure"] = await _cure(request, setting, kept)
    the_map = await bench_map.map_of_page(request, setting, kept)
    return desk.page(
        request,
        "bench",
        status=400 if line else 200,
        line=line,
        presets=[(preset, sign(preset.state, _(preset.name)), link_of(preset.setting)) for preset in PRESETS],
        controls=_controls(setting),
        choices={"instrument": [(name, capital(_(name))) for name in INSTRUMENTS]}
        | choices_of(setting.instrument, setting.size),
        words=words_of(setting),
        care=_(CARE),
        parts=parts,
        map=the_map.pop("parts"),
        map_scene=the_map,
        scene=_scene(*answers),
        setting=setting,
        kept=kept,
        link=link_of(setting, kept),
        keep=link_of(setting, setting),
        sound=_sound_link(setting, kept),
    )


@router.get("/bench/answer")
async def answer(request: Request) -> JSONResponse:
    """Return the answer to the stroke of the address: pieces of the page, and the motion to be moved."""
    setting, kept = read_pair(request.query_params)
    answers = await workbench_of(request).work(_play, setting, kept)
    return JSONResponse(_scene(*answers) | {"parts": _parts(request, *answers)})


@router.get("/bench/cure")
async def cure(request: Request) -> JSONResponse:
    """Return what to try when the tone is not clear, tried by the engine; empty where it is clear."""
    return JSONResponse({"html": await _cure(request, *read_pair(request.query_params))})


async def _cure(request: Request, setting: Setting, kept: Setting | None) -> str:
    answer = await workbench_of(request).work(play, setting)
    if answer.is_clear:
        return ""
    async with workbench_of(request).trying:  # dozens of strokes: an answer must not wait for them
        found = await run_in_threadpool(find_cure, answer)
    template = desk_of(request).templates.get_template("_bench_cure.html.j2")
    return template.render(cure=found, link=found and link_of(found.setting, kept))


@router.get("/bench/sound.wav")
async def sound(request: Request) -> Response:
    """Return the sound of the stroke of the address; where one is kept beside it, both at one loudness."""
    setting, kept = read_pair(request.query_params)
    content = await workbench_of(request).work(_sound, setting, kept)
    return Response(content, media_type="audio/wav")


def _play(setting: Setting, kept: Setting | None) -> tuple[Answer, Answer | None]:
    return play(setting), play(kept) if kept else None


def _sound(setting: Setting, kept: Setting | None) -> bytes:
    """A WAV file at a safe level; both strokes share the smaller gain, so that their loudness compares."""
    sounds = [sound_of(one) for one in (setting, kept) if one]
    gain = 10.0 ** (min(gain_db for *others, gain_db in sounds) / 20.0)
    return wav_bytes(gain * sounds[0][0], rate_hz=RATE_HZ)


def _parts(request: Request, answer: Answer, kept: Answer | None) -> dict[str, str]:
    """Return the pieces of the page that change with a stroke, as HTML."""
    scale = scale_of([answer, kept] if kept else [answer])
    render = desk_of(request).templates.get_template
    shown = sign(answer.state, answer.word, size=26)
    parts = {"says": render("_bench_says.html.j2").render(answer=answer, sign=shown)}
    parts["picture"] = _picture(request, answer, scale)
    note = Markup('<p class="small quiet plot-note">{}</p>').format(_(HOW_TO_READ_SPEED))
    plots = (velocity_picture(answer, scale) + note, force_picture(answer, scale))
    parts["forces"] = Markup("").join(Markup("<div>{}</div>").format(plot) for plot in plots)
    parts["figures"] = str(render("_bench_figures.html.j2").render(answer=answer))
    parts["kept"] = ""
    if kept:
        parts["kept"] = render("_bench_kept.html.j2").render(
            pair=[
                (name, one, sign(one.state, one.word), _pictures(one, scale), sound)
                for name, one, sound in (
                    (_("The stroke kept"), kept, _sound_link(kept.setting, answer.setting)),
                    (_("This stroke"), answer, _sound_link(answer.setting, kept.setting)),
                )
            ],
            without=link_of(answer.setting),
            times=scale.times,
        )
    return parts


def _pictures(answer: Answer, scale: Scale) -> Markup:
    return string_picture(answer, scale) + velocity_picture(answer, scale) + force_picture(answer, scale)


def _sound_link(setting: Setting, other: Setting | None) -> str:
    return link_of(setting, other).replace("/bench?", "/bench/sound.wav?", 1)


def _picture(request: Request, answer: Answer, scale: Scale) -> str:
    template = desk_of(request).templates.get_template("_bench_picture.html.j2")
    return template.render(
        picture=string_picture(answer, scale), times=scale.times, corner=has_corner(answer)
    )


def _scene(answer: Answer, kept: Answer | None) -> dict[str, Any]:
    """Return what the script needs beside the pieces of the page."""
    setting = answer.setting
    scale = scale_of([answer, kept] if kept else [answer])
    return {
        "query": link_of(setting, kept.setting if kept else None).partition("?")[2],
        "fields": setting.query(),
        "kept": kept.setting.query(prefix=KEPT) if kept else {},
        "limits": asdict(limits_of(setting.bowed, setting.frequency_hz)),
        "words": words_of(setting),
        "choices": choices_of(setting.instrument, setting.size),
        "moving": moving(answer, scale),
        "kept_moving": moving(kept, scale) if kept else None,
        "bowable_mm": round(
            1000 * setting.bowed.bowable_length_m * setting.length_m / setting.bowed.sounding_length_m, 1
        ),
        "hair_mm": round(1000 * find_bow(setting.instrument, setting.size).hair_length_m),
        "ribbon_mm": round(1000 * answer.bowed.instrument.ribbon.width_m, 1),
        "turned": setting.instrument in {"cello", "double bass"},
        "clear": answer.is_clear,
    }


def _controls(setting: Setting) -> list[dict[str, Any]]:
    limits = limits_of(setting.bowed, setting.frequency_hz)
    return [
        {
            "name": name,
            "label": _(label),
            "unit": _(unit),
            "step": step,
            "value": f"{getattr(setting, name):g}",
        }
        | dict(zip(("low", "high"), getattr(limits, name), strict=True))
        for name, label, unit, step in _CONTROLS
    ]
