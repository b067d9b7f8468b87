"""The String bench's map: a first look at once, a closer one when the hand rests, each computed once.

See docs/decisions/0123-a-map-in-two-looks.md.
"""

from __future__ import annotations

import asyncio
import hashlib
import os
import time
from collections import OrderedDict
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from colophony.app.bench import Setting
from colophony.app.bench.map import BLANK, LOOKS, BenchMap, Look, Plane, ask_map, plane_of
from colophony.app.bench.map_drawing import USUAL_WIDTH, Frame, draw, room_path
from colophony.app.bench.map_room import Spot, point_strokes, spot_of
from colophony.app.bench.pictures import sign
from colophony.app.kept_maps import KeptMaps
from colophony.app.look.map_regions import ORDER
from colophony.app.web.bench_address import link_of, read_pair
from colophony.app.web.desk import desk_of
from colophony.errors import ColophonyError
from colophony.language import _, figures
from colophony.teaching.wording.bowed import simulated_word

router = APIRouter()

#: Maps held in memory, of a few hundred kB each; pages whose newest question is remembered.
_MOST_MAPS, _MOST_PAGES = 48, 64
#: A bow counts as drawn for so long after its last sample was asked for, s.
_BOWED_S = 0.7
#: A page is shown without its map, which follows, where that takes longer, s: the engine is not ready yet.
_PATIENCE_S = 3.0
#: What stands for a state in the table that a page looks up.
_LETTERS = dict(zip((BLANK, *ORDER), "-nmhsrlc", strict=True))


class OvertakenError(ColophonyError):
    """The page has asked for another map meanwhile."""


class BusyError(ColophonyError):
    """A bow is being drawn: its sound goes first."""


class Maps:
    """One server's maps. Looks of one kind are computed one after the other, each plane once."""

    def __init__(self, kept: KeptMaps | None = None) -> None:
        """Hold no map yet; closer looks are also kept in a folder where one is given."""
        self._kept = kept
        self._found: OrderedDict[tuple[Plane, str], BenchMap] = OrderedDict()
        self._newest: OrderedDict[str, Plane] = OrderedDict()
        self._turn = {name: asyncio.Lock() for name in LOOKS}
        self._bowed_at = -_BOWED_S

    def bowed(self) -> None:
        """Say that a bow is being drawn just now."""
        self._bowed_at = time.monotonic()

    @property
    def is_bowed(self) -> bool:
        """Whether a bow is being drawn, whose sound needs the processor."""
        return time.monotonic() - self._bowed_at < _BOWED_S

    async def find(self, setting: Setting, look: Look, *, page: str = "") -> BenchMap:
        """Return the map of a stroke's plane, a closer one where it is known already.

        A page that asks for another plane ends its older question with `OvertakenError`; while a bow is drawn
        there is no closer look, but `BusyError`.
        """
        plane = plane_of(setting)
        self._remember(page, plane)
        known = self._known(plane, look)
        if known is not None:
            return known

        def is_stopped() -> bool:
            return self._newest.get(page) != plane or (look.name == "closer" and self.is_bowed)

        async with self._turn[look.name]:
            known = self._known(plane, look)
            if known is None and not is_stopped():
                known = await run_in_threadpool(self._ask, setting, look, is_stopped)
        if known is None:
            if self._newest.get(page) != plane:
                raise OvertakenError(_("Another map was asked for meanwhile."))
            raise BusyError(_("The closer map waits until the bow rests."))
        self._found[plane, known.look.name] = known
        while len(self._found) > _MOST_MAPS:
            self._found.popitem(last=False)
        return known

    def _ask(self, setting: Setting, look: Look, is_stopped: Any) -> BenchMap | None:
        cores = os.cpu_count() or 1
        if look.name == "closer":
            return ask_map(setting, look, threads=max(1, cores // 2), is_stopped=is_stopped, kept=self._kept)
        return ask_map(setting, look, threads=1 if self.is_bowed else cores, is_stopped=is_stopped)

    def _known(self, plane: Plane, look: Look) -> BenchMap | None:
        """Return what is in memory and at least as close."""
        for name in ("closer", look.name):
            found = self._found.get((plane, name))
            if found is not None:
                self._found.move_to_end((plane, name))
                return found
        return None

    def _remember(self, page: str, plane: Plane) -> None:
        """Keep in mind what a page asked for last."""
        self._newest[page] = plane
        self._newest.move_to_end(page)
        while len(self._newest) > _MOST_PAGES:
            self._newest.popitem(last=False)


def maps_of(request: Any) -> Maps:
    """Return the maps of the server that a request or connection reached."""
    maps = request.app.state.maps
    assert isinstance(maps, Maps)
    return maps


def warm_up() -> None:
    """Compute a map once, so that the first page does not wait for what is compiled and loaded."""
    ask_map(Setting.usual(), LOOKS["first"])


@router.get("/bench/map")
async def bench_map(request: Request) -> Response:
    """Return the map of the stroke of the address, and what it says of the stroke.

    Beside the stroke: ``look``, ``first`` or ``closer``; ``wide``, the drawing's width in px; ``has``, the
    map that the page shows already and need not be sent; ``page``, any name by which the page's next
    question is known to overtake this one.
    """
    fields = request.query_params
    setting, kept = read_pair(fields)
    look = LOOKS["closer" if fields.get("look") == "closer" else "first"]
    try:
        found = await maps_of(request).find(setting, look, page=fields.get("page", "")[:20])
    except OvertakenError as error:
        return JSONResponse({"line": str(error)}, 409)
    except BusyError as error:
        return JSONResponse({"line": str(error)}, 503)
    told = await run_in_threadpool(_tell, found, setting, kept, _width(fields), fields.get("has", ""))
    return JSONResponse(told | {"parts": _parts(request, told, setting, kept)})


async def map_of_page(request: Request, setting: Setting, kept: Setting | None) -> dict[str, Any]:
    """Return what a page of the bench begins with: pieces of HTML in ``parts``, the rest for its script.

    Only ``signs`` and empty ``parts`` where the map takes long.
    """
    asked = maps_of(request).find(setting, LOOKS["first"], page=f"page {time.monotonic_ns()}")
    task = asyncio.create_task(asked)
    done = (await asyncio.wait({task}, timeout=_PATIENCE_S))[0]
    if not done:
        return {"signs": signs(), "parts": {}}
    found = task.result()
    told = await run_in_threadpool(_tell, found, setting, kept, USUAL_WIDTH)
    return told | {"signs": signs(), "parts": _parts(request, told, setting, kept)}


def _width(fields: Mapping[str, str]) -> int:
    text = fields.get("wide", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else USUAL_WIDTH


def _tell(
    found: BenchMap, setting: Setting, kept: Setting | None, width: int, has: str = ""
) -> dict[str, Any]:
    """Return a map as a script needs it, without what a page has that ``has`` it already.

    ``_spot`` and the like are for `_parts` only.
    """
    frame, spot = Frame(found, width), spot_of(found, setting)
    plane = repr((plane_of(setting), found.look.name, frame.width))
    name = hashlib.sha256(plane.encode()).hexdigest()[:16]
    beside = kept if kept is not None and _same_string(kept, setting) else None
    room = room_path(frame, spot, setting)
    told = {
        "id": name,
        "look": found.look.name,
        "frame": frame.to_json(),
        "room": room,
        "kept_point": beside and {"distance_mm": beside.distance_mm, "weight_n": beside.weight_n},
        "_found": found,
        "_spot": spot,
    }
    if has != name:
        table = found.told
        letters = "".join(_LETTERS[state] for state in table.ravel().tolist())
        told["table"] = {"rows": table.shape[0], "columns": table.shape[1], "states": letters}
        told["_drawing"] = draw(found, frame, beside, setting, room)
    return told


def _parts(request: Request, told: dict[str, Any], setting: Setting, kept: Setting | None) -> dict[str, str]:
    """Return the pieces of HTML of a map, and take what they are made of out of ``told``."""
    found: BenchMap = told.pop("_found")
    spot: Spot = told.pop("_spot")
    render = desk_of(request).templates.get_template
    parts = {
        "says": render("_bench_map_says.html.j2").render(spot=spot, beside=_beside(setting, kept)),
        "points": render("_bench_map_points.html.j2").render(
            strokes=[(one, link_of(one.setting, kept)) for one in point_strokes(found, setting)]
        ),
    }
    if "_drawing" in told:
        shown = [state for state in ORDER if (found.cells.told == state).any()]
        parts["drawing"] = str(told.pop("_drawing"))
        parts["legend"] = "".join(f"<li>{sign(state, simulated_word(state))}</li>" for state in shown)
        parts["note"] = _note(found)
    return parts


def signs() -> dict[str, str]:
    """Return sign and word of every state, by its letter in a page's table."""
    known = {_LETTERS[state]: str(sign(state, simulated_word(state), size=26)) for state in ORDER}
    return known | {_LETTERS[BLANK]: '<span class="quiet">{}</span>'.format(_("off the map"))}


def _note(found: BenchMap) -> str:
    count = f"{found.ranges.strokes:,}".replace(",", "\u00a0")
    if found.look.name == "first":
        line = _("A first look: {count} strokes of {n} vibrations. Edges are rough.")
    else:
        line = _("{count} strokes of {n} vibrations, each from rest, computed for this string.")
    return line.format(count=count, n=found.look.periods)


def _same_string(one: Setting, other: Setting) -> bool:
    return plane_of(one)[:4] == plane_of(other)[:4]


def _beside(setting: Setting, kept: Setting | None) -> str:
    """Return what is to be known of a stroke kept beside this one, as the map shows it."""
    if kept is None:
        return ""
    if not _same_string(kept, setting):
        return _("The stroke kept is one of another string or note: it has no place on this map.")
    if plane_of(kept) == plane_of(setting):
        return _("The ring is the stroke kept.")
    if kept.tilt_deg == setting.tilt_deg:
        line = _("The ring is the stroke kept; it was bowed at {speed} cm/s, for which the map is another.")
    elif kept.speed_cm_s == setting.speed_cm_s:
        line = _(
            "The ring is the stroke kept; it was bowed with {tilt} degrees of tilt, for which the map is "
            "another."
        )
    else:
        line = _(
            "The ring is the stroke kept; it was bowed at {speed} cm/s and with {tilt} degrees of tilt, for "
            "which the map is another."
        )
    return line.format(speed=figures(f"{kept.speed_cm_s:g}"), tilt=figures(f"{kept.tilt_deg:g}"))
