"""The web application: routes, what guards them, what their errors look like."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from fastapi import FastAPI
from fastapi.telemetry import TelemetryConfig
from jinja2 import Environment
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.staticfiles import StaticFiles

from colophony.app.kept_maps import KeptMaps
from colophony.app.look import FONTS_DIR, environment, stylesheet
from colophony.app.look.figures import note
from colophony.app.web import (
    bench,
    bench_map,
    bow_stream,
    exercises,
    lesson,
    practice,
    practice_papers,
    progress,
    score,
    spoken,
    studio,
    takes,
    talk,
)
from colophony.app.web.desk import PAGES, Desk, NotThereError, desk_of
from colophony.app.web.guard import UPLOAD_LIMIT, BodyTooLongError, Guard
from colophony.app.web.listener import Hear, Listener, hear_take
from colophony.app.web.plans import Plans
from colophony.app.web.queue import HearingQueue
from colophony.app.web.unkept import UnkeptTakes
from colophony.errors import InputError, StudioError
from colophony.language import _
from colophony.records.studio import Studio

_HERE = Path(__file__).parent
_PAGES = (
    *(lesson, takes, bench, bench_map, bow_stream, exercises, practice, practice_papers),
    *(score, progress, talk, studio, spoken),
)
_SWEEP_EVERY_S = 20.0
#: The framework can report requests to a collector that the environment names. What is played stays here.
_NO_TELEMETRY: TelemetryConfig = {"tracing": False, "metrics": False, "logs": False, "auto_configure": False}


def create_app(
    studio_folder: Path,
    *,
    hear: Hear = hear_take,
    upload_limit: int = UPLOAD_LIMIT,
    maps_folder: Path | None = None,
) -> FastAPI:
    """Return the application that shows the studio in ``studio_folder``, made there when there is none.

    ``hear`` stands in for the project's own ears in tests; it is a function of an importable module.
    ``upload_limit`` is the longest recording taken at once, in bytes. Computed maps are kept in
    ``maps_folder``, only in memory where there is none.
    Raises `colophony.errors.StudioError` when the studio cannot be opened.
    """
    desk = Desk(
        studio=Studio.open(studio_folder),
        queue=HearingQueue(Listener(hear)),
        unkept=UnkeptTakes(),
        templates=_templates(),
        upload_limit=upload_limit,
    )
    app = FastAPI(
        lifespan=_lifespan, openapi_url=None, docs_url=None, redoc_url=None, telemetry=_NO_TELEMETRY
    )
    app.state.desk = desk
    app.state.workbench = bench.Workbench()
    app.state.maps = bench_map.Maps(KeptMaps(maps_folder) if maps_folder else None)
    app.state.plans = Plans(KeptMaps(maps_folder) if maps_folder else None)
    app.state.scores = score.ScoreDesk(KeptMaps(maps_folder) if maps_folder else None)
    app.add_middleware(Guard, upload_limit=upload_limit)
    app.add_middleware(spoken.Spoken)  # outermost: also the guard's refusals are said to a reader
    for pages in _PAGES:
        app.include_router(pages.router)
    _serve_look(app)
    app.add_exception_handler(NotThereError, _not_there)
    app.add_exception_handler(StudioError, _not_there)
    app.add_exception_handler(BodyTooLongError, _too_long)
    app.add_exception_handler(InputError, _bad_input)
    app.add_exception_handler(HTTPException, _no_page)
    return app


def _templates() -> Environment:
    templates = environment(_HERE / "templates")
    templates.filters["letter"] = lambda string: note(string).rstrip("0123456789-")
    templates.globals["options"] = lambda values: [(value, value) for value in values]
    templates.globals["strings"] = lambda student: [
        (string, f"{templates.filters['letter'](string)} ({note(string)})") for string in student.strings
    ]
    return templates


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    """Forget on time while the server runs; leave nothing behind when it stops."""
    desk: Desk = app.state.desk

    async def sweep() -> None:
        while True:
            await asyncio.sleep(_SWEEP_EVERY_S)
            desk.unkept.sweep()

    sweeping = asyncio.create_task(sweep())
    try:
        yield
    finally:
        sweeping.cancel()
        with suppress(asyncio.CancelledError):
            await sweeping
        await asyncio.to_thread(desk.queue.close)
        desk.unkept.forget_all()
        desk.studio.close()


def _serve_look(app: FastAPI) -> None:
    style = stylesheet(fonts="/static/fonts") + "\n" + (_HERE / "static" / "web.css").read_text("utf-8")

    @app.get("/static/look.css")
    def look_css() -> Response:
        return Response(style, media_type="text/css")

    @app.get("/look")
    def look(request: Request) -> HTMLResponse:
        from colophony.app.look.gallery import render_meanings

        return HTMLResponse(render_meanings(stylesheet="/static/look.css", pages=PAGES))

    @app.get("/favicon.ico")
    def icon() -> Response:
        return FileResponse(_HERE / "static" / "icon.svg")

    app.mount("/static/fonts", StaticFiles(directory=FONTS_DIR))
    app.mount("/static", StaticFiles(directory=_HERE / "static"))


def _error_page(request: Request, status: int, line: str) -> Response:
    if lesson.wants_json(request):
        return JSONResponse({"line": line}, status)
    return desk_of(request).page(request, "error", status=status, line=line)


async def _not_there(request: Request, error: Exception) -> Response:
    return _error_page(request, 404, str(error))


async def _too_long(request: Request, error: Exception) -> Response:
    response = _error_page(request, 413, str(error))
    response.headers["Connection"] = "close"
    return response


async def _bad_input(request: Request, error: Exception) -> Response:
    return _error_page(request, 400, str(error))


async def _no_page(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    line = (
        _("There is no such page here.") if error.status_code == 404 else _("This page does not take that.")
    )
    return _error_page(request, error.status_code, line)
