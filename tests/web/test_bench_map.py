"""The bench's map over HTTP: what is computed, what is told of a stroke, what gives way to what."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from serving import Site

from colophony.app.bench import Setting
from colophony.app.bench.map import LOOKS, BenchMap, ask_map
from colophony.app.bench.map_room import point_strokes, spot_of
from colophony.app.kept_maps import KeptMaps
from colophony.app.web import bench_map
from colophony.app.web.bench_map import BusyError, Maps, OvertakenError
from colophony.physics.maps import wander_room

#: The engine may have to be compiled first.
PATIENT = 180.0
USUAL = Setting.usual("violin", "4/4", "D")


@pytest.fixture(scope="module")
def first() -> BenchMap:
    found = ask_map(USUAL, LOOKS["first"])
    assert found is not None
    return found


@pytest.fixture(scope="module")
def closer() -> BenchMap:
    found = ask_map(USUAL, LOOKS["closer"], threads=1)
    assert found is not None
    return found


def get(site: Site, query: str = "", **more: Any) -> dict[str, Any]:
    answer = site.client.get(f"/bench/map?{query}", timeout=PATIENT, **more)
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def test_the_map_holds_what_a_bowed_string_is_known_for(closer: BenchMap) -> None:
    """Schelleng (1973): too light slips more than once, too heavy is raucous, between them one slip a period;
    the least weight grows towards the bridge.
    """
    told, (_, far) = closer.told, closer.limits[0]
    row = told[int(0.0275 / far * len(told))].tolist()
    clear = [k for k, state in enumerate(row) if state == "helmholtz"]
    assert "multiple-slip" in row[: clear[0]]
    assert "raucous" in row[clear[-1] :]
    least = [
        next(k for k, state in enumerate(told[int(place / far * len(told))]) if state == "helmholtz")
        for place in (0.045, 0.0275, 0.016)
    ]
    assert least == sorted(set(least))


def test_a_first_look_agrees_with_the_closer_one_but_for_rough_edges(
    first: BenchMap, closer: BenchMap
) -> None:
    """Our own figure: four in five places have the same state."""
    known = first.told != ""
    assert (first.told == closer.told)[known].mean() > 0.8
    assert first.ranges.strokes < closer.ranges.strokes / 3


def test_the_room_is_that_of_the_playable_ranges(closer: BenchMap) -> None:
    """Two ways that must agree: places looked up along the drawing, and the ranges of neighbouring distances.
    A drawing's row is 0.75 mm.
    """
    spot = spot_of(closer, USUAL)
    assert spot.state == "helmholtz"
    assert spot.distances_m is not None
    assert spot.weights_n is not None
    room = wander_room(closer.ranges, distance_m=USUAL.distance_mm / 1000, weight_n=USUAL.weight_n)
    assert room is not None
    assert spot.distances_m[0] == pytest.approx(room.nearest_m, abs=0.0015)
    assert spot.distances_m[1] == pytest.approx(room.farthest_m, abs=0.0015)
    assert spot.weights_n == pytest.approx(closer.ranges.limits_at(USUAL.distance_mm / 1000), rel=0.02)
    assert spot.says.startswith("From here you may wander ")
    assert "towards the fingerboard and" in spot.says
    assert "the bow may rest with up to" in spot.says
    over = spot_of(closer, replace(USUAL, distance_mm=60.0, weight_n=0.4)).says
    assert " over the fingerboard" in over


def test_a_stroke_that_does_not_sing_is_told_where_it_would(closer: BenchMap) -> None:
    light = replace(USUAL, distance_mm=14.0, weight_n=0.35)
    spot = spot_of(closer, light)
    assert spot.state == "multiple-slip"
    assert spot.weights_n is None
    assert "It is clear here from" in spot.says
    assert "with this weight from" in spot.says
    near = spot_of(closer, replace(USUAL, distance_mm=3.0))
    assert near.state == ""
    assert "the map begins at" in near.says


def test_strokes_at_the_sounding_points_sing_where_the_map_says_so(closer: BenchMap) -> None:
    strokes = point_strokes(closer, replace(USUAL, weight_n=0.3))
    assert [one.point for one in strokes] == [1, 2, 3, 4, 5]
    assert [one.setting.distance_mm for one in strokes] == [5.5, 16.5, 27.5, 38.5, 49.5]
    for one in strokes:
        state = closer.state_at(one.setting.distance_mm / 1000, one.setting.weight_n)
        assert (state == "helmholtz") == one.speaks
    assert strokes[1].setting.weight_n > 0.3  # nearer to the bridge the string asks for more weight
    assert strokes[4].setting.weight_n == 0.3


def test_a_tilted_hair_touches_farther_from_the_bridge_and_the_map_is_told_where_the_bow_is_set() -> None:
    tilted = ask_map(replace(USUAL, tilt_deg=50.0), LOOKS["first"])
    assert tilted is not None
    assert 0.001 < tilted.hair_m < 0.006
    shift = tilted.ranges.rows()[0]
    assert np.exp(shift) - tilted.cells.distance_m == pytest.approx(tilted.hair_m)


def test_the_answer_is_small_where_the_page_has_the_map(site: Site) -> None:
    whole = get(site, "string=D&wide=400")
    assert whole["frame"]["width"] == 400
    assert len(whole["table"]["states"]) == whole["table"]["rows"] * whole["table"]["columns"]
    assert "<svg" in whole["parts"]["drawing"]
    again = get(site, f"string=D&wide=400&weight_n=0.1&has={whole['id']}")
    assert again["id"] == whole["id"]
    assert "table" not in again
    assert set(again["parts"]) == {"says", "points"}
    assert again["parts"]["says"] != whole["parts"]["says"]
    for other in ("string=D&wide=500", "string=D&wide=400&tilt_deg=20", "string=A&wide=400"):
        assert get(site, f"{other}&has={whole['id']}")["id"] != whole["id"]


def test_a_closer_map_takes_the_place_of_the_first_look(site: Site) -> None:
    query = "string=A&speed_cm_s=25"
    before = get(site, query)
    assert before["look"] == "first"
    assert "A first look" in before["parts"]["note"]
    closer = get(site, f"{query}&look=closer")
    assert closer["look"] == "closer"
    assert get(site, query)["id"] == closer["id"]


def test_a_stroke_kept_beside_it_is_on_the_map_of_its_string_only(site: Site) -> None:
    same = get(site, "string=D&kept_string=D&kept_weight_n=1.2")
    assert same["kept_point"]["weight_n"] == 1.2
    assert "The ring is the stroke kept." in same["parts"]["says"]
    faster = get(site, "string=D&kept_string=D&kept_speed_cm_s=40")
    assert "bowed at 40 cm/s" in faster["parts"]["says"]
    other = get(site, "string=D&kept_string=A")
    assert other["kept_point"] is None
    assert "no place on this map" in other["parts"]["says"]


def test_the_cello_is_turned(site: Site) -> None:
    """The cellist looks along the strings from the scroll's side (common practice, no source)."""
    assert not get(site, "string=D")["frame"]["turned"]
    assert get(site, "instrument=cello&string=C")["frame"]["turned"]


def test_a_mistake_is_one_line(site: Site) -> None:
    answer = site.client.get("/bench/map?weight_n=900", headers={"Accept": "application/json"})
    assert answer.status_code == 400
    assert "weight of 900 N" in answer.json()["line"]


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch, first: BenchMap) -> Iterator[threading.Event]:
    """Stands in for the engine: a map takes until it is stopped, or until the event is set."""
    done = threading.Event()

    def ask(setting: Setting, look: Any, *, is_stopped: Any, **_: Any) -> BenchMap | None:
        while not done.wait(0.005):
            if is_stopped():
                return None
        return replace(first, look=look, setting=setting)

    monkeypatch.setattr(bench_map, "ask_map", ask)
    yield done
    done.set()


def test_a_newer_question_of_the_same_page_ends_an_older_one(slow: threading.Event) -> None:
    async def play() -> None:
        maps = Maps()
        older = asyncio.create_task(maps.find(USUAL, LOOKS["closer"], page="a"))
        other = asyncio.create_task(maps.find(replace(USUAL, tilt_deg=9.0), LOOKS["first"], page="b"))
        await asyncio.sleep(0.05)
        newer = asyncio.create_task(maps.find(replace(USUAL, tilt_deg=5.0), LOOKS["first"], page="a"))
        with pytest.raises(OvertakenError):
            await asyncio.wait_for(older, 5)
        assert not other.done()
        slow.set()
        assert (await asyncio.wait_for(newer, 5)).setting.tilt_deg == 5.0
        assert (await asyncio.wait_for(other, 5)).setting.tilt_deg == 9.0

    asyncio.run(play())


def test_a_point_moved_on_the_map_does_not_end_the_closer_look(slow: threading.Event) -> None:
    async def play() -> None:
        maps = Maps()
        closer = asyncio.create_task(maps.find(USUAL, LOOKS["closer"], page="a"))
        await asyncio.sleep(0.05)
        moved = asyncio.create_task(maps.find(replace(USUAL, weight_n=0.4), LOOKS["first"], page="a"))
        await asyncio.sleep(0.05)
        assert not closer.done()
        slow.set()
        assert (await asyncio.wait_for(closer, 5)).look.name == "closer"
        await asyncio.wait_for(moved, 5)

    asyncio.run(play())


def test_while_a_bow_is_drawn_there_is_no_closer_look(slow: threading.Event) -> None:
    async def play() -> None:
        maps = Maps()
        under_way = asyncio.create_task(maps.find(USUAL, LOOKS["closer"], page="a"))
        await asyncio.sleep(0.05)
        maps.bowed()
        with pytest.raises(BusyError, match="waits until the bow rests"):
            await asyncio.wait_for(under_way, 5)
        slow.set()
        assert (await asyncio.wait_for(maps.find(USUAL, LOOKS["first"], page="a"), 5)).look.name == "first"

    asyncio.run(play())


def test_a_map_is_computed_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = KeptMaps(tmp_path)
    quick = replace(LOOKS["closer"], distances=3, weights=32, periods=20)
    one = ask_map(USUAL, quick, threads=1, kept=kept)
    monkeypatch.setattr("colophony.physics.maps.steady_map", None)
    again = ask_map(USUAL, quick, threads=1, kept=kept)
    assert one is not None
    assert again is not None
    assert np.array_equal(one.steady.state, again.steady.state)
