"""Exercises of page Practice: the library to read, and the teacher's own to write and change."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from colophony.app.own_exercises import (
    choices,
    every_exercise,
    exercise_file,
    form_fields,
    keep_from_file,
    keep_from_form,
    own_exercises,
    plain_table,
)
from colophony.app.web.desk import Desk, desk_of
from colophony.app.web.forms import read_form
from colophony.app.web.lesson import see
from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.exercises.exercise import AIMS
from colophony.teaching.exercises.library import find_exercise, library
from colophony.teaching.exercises.reading import MistakesError

router = APIRouter()


@router.get("/practice/exercises")
def exercises(request: Request) -> HTMLResponse:
    """Show every exercise, by what it is for."""
    return _list_page(request, desk_of(request))


def _list_page(
    request: Request, desk: Desk, *, mistakes: tuple[str, ...] = (), text: str = ""
) -> HTMLResponse:
    shipped, own = library(), own_exercises(desk.studio)
    return desk.page(
        request,
        "exercises",
        status=400 if mistakes else 200,
        mistakes=mistakes,
        text=text,
        own=own,
        groups=[
            (_(words), [exercise for exercise in shipped if exercise.aim == aim])
            for aim, words in AIMS.items()
        ],
    )


@router.get("/practice/exercises/new")
def new(request: Request) -> HTMLResponse:
    """Show the form for an exercise, empty or beginning as another one."""
    desk = desk_of(request)
    key = request.query_params.get("like")
    model = find_exercise(key, every_exercise(desk.studio)) if key else None
    fields = form_fields(model)
    if model is not None and not model.is_own:  # its messages stand in the catalogue
        fields |= {name: _(text) for name, text in fields.items() if name in _TEXTS}
    return _form_page(request, desk, fields)


_TEXTS = ("title", "child", "adult", "teacher", "listen_child", "listen_adult", "listen_teacher")


def _form_page(
    request: Request, desk: Desk, fields: dict[str, str], *, key: str = "", mistakes: tuple[str, ...] = ()
) -> HTMLResponse:
    return desk.page(
        request,
        "exercise_form",
        status=400 if mistakes else 200,
        fields=fields,
        key=key,
        mistakes=mistakes,
        keys=[exercise.key for exercise in every_exercise(desk.studio) if exercise.key != key],
        **choices(),
    )


@router.get("/practice/exercises/own.toml")
def own_file(request: Request) -> Response:
    """Answer with the studio's own exercises as one file, to pass on."""
    tables = [plain_table(exercise) for exercise in own_exercises(desk_of(request).studio)]
    headers = {"Content-Disposition": 'attachment; filename="exercises.toml"'}
    return Response(exercise_file(tables), media_type="application/toml", headers=headers)


@router.post("/practice/exercises/file")
async def take_file(request: Request) -> Response:
    """Take in the exercises of a file that a teacher wrote or was given."""
    desk = desk_of(request)
    text = (await read_form(request)).get("text", "")
    try:
        await run_in_threadpool(keep_from_file, desk.studio, text, place=_("the file"))
    except MistakesError as error:
        return await run_in_threadpool(_list_page, request, desk, mistakes=error.lines, text=text)
    return see("/practice/exercises?done=exercise")


@router.post("/practice/exercises")
async def add(request: Request) -> Response:
    """Take in an exercise of the teacher's own."""
    return await _keep(request, None)


@router.get("/practice/exercises/own/{key}")
def change_form(request: Request, key: str) -> HTMLResponse:
    """Show the form of an own exercise."""
    desk = desk_of(request)
    exercise = find_exercise(key, own_exercises(desk.studio))
    return _form_page(request, desk, form_fields(exercise), key=key)


@router.post("/practice/exercises/own/{key}")
async def change(request: Request, key: str) -> Response:
    """Change an own exercise."""
    desk = desk_of(request)
    if not any(kept.key == key for kept in await run_in_threadpool(desk.studio.own_exercises)):
        raise InputError(
            _("no exercise of this studio's own is called {key}: nothing was changed").format(key=repr(key))
        )
    return await _keep(request, key)


async def _keep(request: Request, key: str | None) -> Response:
    desk = desk_of(request)
    fields = await read_form(request)
    try:
        await run_in_threadpool(keep_from_form, desk.studio, fields, key=key)
    except MistakesError as error:
        return await run_in_threadpool(_form_page, request, desk, fields, key=key or "", mistakes=error.lines)
    return see("/practice/exercises?done=exercise")


@router.post("/practice/exercises/own/{key}/remove")
def remove(request: Request, key: str) -> Response:
    """Remove an own exercise."""
    desk_of(request).studio.remove_exercise(key)
    return see("/practice/exercises?done=exercise-removed")
