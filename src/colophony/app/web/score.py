"""Page Score: send a piece, see and hear its bow plan, change what will not go, take it home."""

from __future__ import annotations

import asyncio
import io
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fastapi import APIRouter
from markupsafe import Markup, escape
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from colophony.app.bench.pictures import sign
from colophony.app.bow import RATE_HZ
from colophony.app.kept_maps import KeptMaps
from colophony.app.phrases import capital
from colophony.app.score.annotated import annotated
from colophony.app.score.opening import ENDINGS, MOST_BYTES, read_score
from colophony.app.score.picture import NARROW, WIDE, drawn_lines, how_to_read, picture, setting_words
from colophony.app.score.plan import BOW_LIMITS_MM, TEMPO_LIMITS
from colophony.app.score.playing import block_sound, blocks_of, piece_sound, stroke_sound, stroke_state
from colophony.app.score.values import PlannedScore
from colophony.app.wav import wav_bytes
from colophony.app.web import bench
from colophony.app.web.desk import Desk, NotThereError, desk_of
from colophony.app.web.lesson import see
from colophony.app.web.loaded_scores import LoadedScore, LoadedScores
from colophony.app.web.score_asked import Asked
from colophony.app.web.score_parts import (
    Shown,
    changes_of,
    remarks_of,
    scene_of,
    sound_words,
    table_head,
    table_of,
    warnings_of,
)
from colophony.app.web.upload import SCORE, receive_upload
from colophony.errors import InputError
from colophony.language import _
from colophony.records.domain import OPEN_STRINGS, SIZES
from colophony.teaching.cautions import caution
from colophony.teaching.score import words
from colophony.teaching.wording.bowed import simulated_word

router = APIRouter()
EXAMPLE = Path(__file__).parent.parent / "score" / "evening.musicxml"
#: A form's fields and the frame around a file, in bytes.
_FRAME_BYTES = 16 * 1024


@dataclass(slots=True)
class ScoreDesk:
    """One server's scores. One is planned at a time: the library that reads them takes no second reader.

    ``kept`` holds the maps of strings; without one a plan goes by the published limits.
    """

    kept: KeptMaps | None = None
    scores: LoadedScores = field(default_factory=LoadedScores)
    turn: asyncio.Lock = field(default_factory=asyncio.Lock)


def scores_of(request: Request) -> ScoreDesk:
    """Return the scores of the server that a request reached."""
    desk = request.app.state.scores
    assert isinstance(desk, ScoreDesk)
    return desk


@router.get("/score")
def begin(request: Request) -> HTMLResponse:
    """Show where a score is sent."""
    return _begin_page(request)


@router.post("/score")
async def send(request: Request) -> Response:
    """Take in a score and show its plan."""
    try:
        name, data, fields = await _receive(request)
        score = await run_in_threadpool(read_score, data, name=name)
        asked = Asked.read(fields)
    except InputError as error:
        return await run_in_threadpool(_begin_page, request, line=str(error))
    loaded = scores_of(request).scores.add(score, name=name)
    return see(asked.address(loaded.key))


@router.post("/score/example")
async def example(request: Request) -> Response:
    """Load the invented example and show its plan."""
    score = await run_in_threadpool(read_score, EXAMPLE.read_bytes(), name=EXAMPLE.name)
    loaded = scores_of(request).scores.add(score, name=EXAMPLE.name)
    return see(Asked().address(loaded.key))


@router.post("/score/{key}/forget")
def forget(request: Request, key: str) -> Response:
    """Forget a score now."""
    scores_of(request).scores.forget(key)
    return see("/score?done=score-forgotten")


@router.get("/score/{key}")
async def show(request: Request, key: str) -> Response:
    """Show the plan of a score as the address asks for it; after a mistake the usual one and one line."""
    desk, loaded = desk_of(request), _loaded(request, key)
    line = None
    try:
        asked = Asked.read(request.query_params, request.query_params.getlist("change"))
        planned = await _planned(request, loaded, asked)
    except InputError as error:
        line, asked = str(error), Asked()
        planned = await _planned(request, loaded, asked)
    values = await run_in_threadpool(_page_values, desk, planned, asked, key)
    return desk.page(request, "score_plan", status=400 if line else 200, line=line, **values)


@router.get("/score/{key}/annotated.musicxml")
async def annotated_file(request: Request, key: str) -> Response:
    """Return the score with the plan written in."""
    loaded, planned = await _asked(request, key)
    text = await run_in_threadpool(annotated, planned)
    return _file(text, "application/vnd.recordare.musicxml+xml", f"{_stem(loaded)}-bowed.musicxml")


@router.get("/score/{key}/picture.svg")
async def picture_file(request: Request, key: str) -> Response:
    """Return the page as a picture."""
    loaded, planned = await _asked(request, key)
    text = await run_in_threadpool(picture, planned)
    return _file(text, "image/svg+xml", f"{_stem(loaded)}-bowed.svg")


@router.get("/score/{key}/piece.wav")
async def piece(request: Request, key: str) -> Response:
    """Return the sound of the whole piece."""
    _score, planned = await _asked(request, key)
    return _sound(await bench.workbench_of(request).work(piece_sound, planned))


@router.get("/score/{key}/block-{number:number}.wav")
async def block(request: Request, key: str, number: int) -> Response:
    """Return the sound of a stretch of the piece, from 0."""
    _score, planned = await _asked(request, key)
    blocks = blocks_of(planned)
    if number >= len(blocks):
        raise NotThereError(_("The piece ends before that."))
    return _sound(await bench.workbench_of(request).work(block_sound, planned, blocks[number]))


@router.get("/score/{key}/stroke-{number:number}.wav")
async def stroke(request: Request, key: str, number: int) -> Response:
    """Return the sound of one stroke, from 1."""
    _score, planned = await _asked(request, key)
    return _sound(await bench.workbench_of(request).work(stroke_sound, planned, number - 1))


@router.get("/score/{key}/stroke-{number:number}.json")
async def stroke_answer(request: Request, key: str, number: int) -> JSONResponse:
    """Return what the simulated string does in a stroke, as a piece of the page; empty if not told."""
    _score, planned = await _asked(request, key)
    state = await bench.workbench_of(request).work(stroke_state, planned, number - 1)
    if state is None:
        return JSONResponse({"html": ""})
    shown = sign(state, simulated_word(state))
    return JSONResponse({"html": Markup(escape(_("The simulated string answers:"))) + " " + shown})


def _sound(sound: Any) -> Response:
    return Response(wav_bytes(sound, rate_hz=RATE_HZ), media_type="audio/wav")


def _file(text: str, kind: str, name: str) -> Response:
    """Return a text as a file to be saved. The name holds letters that need no quoting (RFC 6266)."""
    return Response(text, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _stem(loaded: LoadedScore) -> str:
    stem = Path(loaded.name).stem
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in stem)
    return plain.strip("-")[:60] or "score"


def _loaded(request: Request, key: str) -> LoadedScore:
    loaded = scores_of(request).scores.find(key)
    if loaded is None:
        raise NotThereError(_("This score is forgotten by now: send it again."))
    return loaded


async def _asked(request: Request, key: str) -> tuple[LoadedScore, PlannedScore]:
    """Return a score and the plan that the address asks for. Raises `InputError` and `NotThereError`."""
    loaded = _loaded(request, key)
    asked = Asked.read(request.query_params, request.query_params.getlist("change"))
    return loaded, await _planned(request, loaded, asked)


async def _planned(request: Request, loaded: LoadedScore, asked: Asked) -> PlannedScore:
    studio, scores = desk_of(request).studio, scores_of(request)

    def planned() -> PlannedScore:
        student = asked.student_of(studio)  # whose instrument may have changed since the last plan
        return loaded.plan((asked, student), lambda: asked.plan(loaded.score, student, kept=scores.kept))

    async with scores.turn:
        return await run_in_threadpool(planned)


async def _receive(request: Request) -> tuple[str, bytes, dict[str, str]]:
    """Return name and content of the one file sent, and the form's other fields. Raises `InputError`.

    The file goes to memory alone: a form read by the framework would lie on the disk where it is large.
    """
    length = request.headers.get("content-length", "")
    if not (length.isascii() and length.isdigit()) or int(length) > MOST_BYTES + _FRAME_BYTES:
        raise InputError(
            _("This is larger than {limit} MB: a score of one piece is smaller.").format(
                limit=MOST_BYTES // 2**20
            )
        )
    content = io.BytesIO()
    upload = await receive_upload(request, content, SCORE)
    return upload.name, content.getvalue(), upload.fields


def _begin_page(request: Request, *, line: str | None = None) -> HTMLResponse:
    desk = desk_of(request)
    return desk.page(
        request,
        "score",
        status=400 if line else 200,
        line=line,
        accept=",".join(ENDINGS),
        limit_mb=MOST_BYTES // 2**20,
        **_choices(desk),
    )


def _choices(desk: Desk) -> dict[str, Any]:
    students = [(str(student.id), student.name) for student in desk.studio.students()]
    return {
        "students": [("", _("nobody in particular")), *students] if students else [],
        "instruments": [(name, capital(_(name))) for name in OPEN_STRINGS],
        "sizes": [(size, size) for size in SIZES],
    }


def _page_values(desk: Desk, planned: PlannedScore, asked: Asked, key: str) -> dict[str, Any]:
    """Return what the page of a plan shows."""
    wide = drawn_lines(planned, width=WIDE, prefix="w")
    narrow = drawn_lines(planned, width=NARROW, prefix="n")
    try:
        blocks, sound_line = blocks_of(planned), ""
    except InputError as error:
        blocks, sound_line = (), str(error)
    student = asked.student_of(desk.studio)
    shown = Shown(planned, asked, key, student.reader if student else "teacher")
    return _choices(desk) | {
        "summary": words.headline(planned.plan),
        "warnings": warnings_of(shown),
        "remarks": remarks_of(shown),
        "changes": changes_of(shown),
        "table": table_of(shown),
        "table_head": table_head(),
        "sound_words": sound_words(),
        "title": planned.score.title,
        "plan": planned.plan,
        "setting_words": setting_words(planned),
        "how_to_read": how_to_read(),
        "care": _(bench.CARE),
        "pain": caution("pain", reader=shown.reader),
        "fields": asked,
        "bow_limits": [f"{limit:g}" for limit in BOW_LIMITS_MM],
        "tempo_limits": [f"{limit:g}" for limit in TEMPO_LIMITS],
        "here_address": f"/score/{key}",
        "part_choices": [(str(one.index + 1), one.name) for one in planned.score.parts if one.notes],
        "part_value": str(planned.part.index + 1),
        "wide": wide,
        "narrow": narrow,
        "sound_line": sound_line,
        "scene": scene_of(shown, blocks=blocks, wide=wide, narrow=narrow),
    } | {
        f"{name}_address": asked.address(key, file)
        for name, file in (
            ("sound", "piece.wav"), ("annotated", "annotated.musicxml"), ("picture", "picture.svg")
        )
    }  # fmt: skip
