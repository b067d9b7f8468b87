"""Page Talk: arrange demonstrations for a room, show them, take them along in one file."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from colophony.app.talk import Talk, offline_page, shown_page
from colophony.app.talk.page import instrument_name, sound_of, string_name
from colophony.app.talk.sequence import choices_of
from colophony.app.web.bench import workbench_of
from colophony.app.web.desk import desk_of
from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.demonstrations import AUDIENCES, Demonstration

router = APIRouter()


@router.get("/talk")
async def talk(request: Request) -> Response:
    """Show the talk of the address, to be arranged; after a mistake the usual one and one line."""
    line = None
    try:
        arranged = _read(request.query_params)
    except InputError as error:
        line, arranged = str(error), Talk()
    choices = choices_of(arranged)
    return desk_of(request).page(
        request,
        "talk",
        status=400 if line else 200,
        line=line,
        talk=arranged,
        string=string_name(arranged.bowed),
        rows=[_row(arranged, one) for one in arranged.demonstrations],
        more=[(one, _link(arranged.and_then(one.key), f"earlier-{one.key}")) for one in arranged.left_out],
        choices={
            "instrument": [(name, instrument_name(name)) for name in choices["instrument"]],
            "size": [(name, name) for name in choices["size"]],
            "string": [(name, name) for name in choices["string"]],
        },
        audiences=AUDIENCES,
        show=_link(arranged, path="/talk/show"),
        file=_link(arranged, path="/talk/file"),
    )


@router.get("/talk/show")
async def show(request: Request) -> Response:
    """Show the talk of the address, one slide at a time."""
    arranged = Talk.read(request.query_params)
    page = await workbench_of(request).work(_shown, arranged)
    return HTMLResponse(page)


@router.get("/talk/sound.wav")
async def sound(request: Request) -> Response:
    """Return the sound of one stroke of a slide."""
    fields = request.query_params
    arranged = Talk.read(fields)
    index = fields.get("stroke", "")
    if not (index.isascii() and index.isdigit() and len(index) < 3):
        raise InputError(_("Say which stroke of the slide is meant, by its number from 0."))
    content = await workbench_of(request).work(sound_of, arranged, fields.get("slide", ""), int(index))
    return Response(content, media_type="audio/wav")


@router.get("/talk/file")
async def file(request: Request) -> Response:
    """Return the talk of the address as one offline file, to be kept."""
    arranged = Talk.read(request.query_params)
    page = await workbench_of(request).work(offline_page, arranged)
    name = f"talk-{arranged.instrument}-{arranged.size.replace('/', '-')}-{arranged.string}.html"
    return HTMLResponse(page, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _read(fields: Mapping[str, str]) -> Talk:
    """Read the talk of a form: another instrument comes in the size and with the string that it has."""
    try:
        return Talk.read(fields)
    except InputError:
        if "was" not in fields or fields.get("instrument") == fields["was"]:
            raise
        kept = {name: fields[name] for name in ("instrument", "slides", "name") if name in fields}
        return Talk.read(kept)


def _shown(arranged: Talk) -> str:
    return shown_page(arranged, static="/static", sounds="/talk/sound.wav", back=_link(arranged))


def _row(arranged: Talk, one: Demonstration) -> dict[str, object]:
    key = one.key
    return {
        "said": one,
        "earlier": _link(arranged.moved(key, -1), f"earlier-{key}"),
        "later": _link(arranged.moved(key, 1), f"later-{key}"),
        "remove": _link(arranged.without(key), "arrange"),
    }


def _link(arranged: Talk, place: str = "", *, path: str = "/talk") -> str:
    """Return the address of a talk, and a place on its page that takes the focus."""
    return f"{path}?{urlencode(arranged.query())}" + (f"#{place}" if place else "")
