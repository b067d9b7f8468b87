"""Kept maps: what is kept comes back bit by bit; what is damaged is as good as none."""

from __future__ import annotations

import dataclasses
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from map_answers import Plane

from colophony.app import kept_maps
from colophony.app import ranges as range_case
from colophony.app import starts as start_case
from colophony.app.kept_maps import KeptMaps
from colophony.app.ranges import Request, find_ranges
from colophony.app.starts import find_starts

SMALL = Request(string="D", distances=6, weights=10)


@pytest.fixture
def plane(monkeypatch: pytest.MonkeyPatch) -> Plane:
    stand_in = Plane()
    monkeypatch.setattr(range_case, "asking", stand_in.asking)
    monkeypatch.setattr(start_case, "asking", stand_in.asking)
    return stand_in


def same(one: Any, other: Any) -> bool:
    """Whether two values are equal down to the last bit, nan like nan."""
    if dataclasses.is_dataclass(one):
        return type(one) is type(other) and all(
            same(getattr(one, f.name), getattr(other, f.name)) for f in dataclasses.fields(one)
        )
    if isinstance(one, tuple):
        return len(one) == len(other) and all(same(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
    return bool(one == other or (one != one and other != other))


def test_maps_come_back_as_they_were(plane: Plane, tmp_path: Path) -> None:
    """Every array, number and flag of both kinds of map, also where there is nothing (nan)."""
    kept = KeptMaps(tmp_path)
    first, second = (find_ranges(SMALL, kept=kept) for _ in range(2))
    assert (first.is_kept, second.is_kept) == (False, True)
    assert same(first.maps, second.maps)
    asked = start_case.Request(string="D", weights=4, accelerations=8)
    begun, again = (find_starts(asked, kept=kept) for _ in range(2))
    assert (begun.is_kept, again.is_kept) == (False, True)
    assert same(begun.map, again.map)


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 no map", None])
def test_a_damaged_file_is_computed_anew(plane: Plane, tmp_path: Path, damage: bytes | None) -> None:
    """Emptied, overwritten or cut in half: no error, and the file is whole again afterwards."""
    kept = KeptMaps(tmp_path)
    find_ranges(SMALL, kept=kept)
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2] if damage is None else damage)
    assert not find_ranges(SMALL, kept=kept).is_kept
    assert find_ranges(SMALL, kept=kept).is_kept
    assert list(tmp_path.iterdir()) == [path]  # no draft is left


def test_a_folder_that_cannot_be_written_is_no_error(plane: Plane, tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    kept = KeptMaps(tmp_path / "file" / "maps")
    assert not find_ranges(SMALL, kept=kept).is_kept
    assert not find_ranges(SMALL, kept=kept).is_kept


def test_the_longest_unused_maps_go_first(tmp_path: Path) -> None:
    """Beyond the bound; one that was used a moment ago stays."""
    values = [(np.random.default_rng(number).random(400),) for number in range(4)]
    KeptMaps(tmp_path).keep("0" * 64, values[0])
    (one,) = tmp_path.iterdir()
    most = round(3.5 * one.stat().st_size)
    one.unlink()
    kept = KeptMaps(tmp_path, most_bytes=most)
    keys = [kept.key("some", {"number": number}) for number in range(4)]
    for age, (key, value) in enumerate(zip(keys[:3], values, strict=False)):
        kept.keep(key, value)
        os.utime(tmp_path / f"{key}.map", (1000.0 + age, 1000.0 + age))
    assert kept.find(keys[0]) is not None  # used now
    kept.keep(keys[3], values[3])
    assert [kept.find(key) is not None for key in keys] == [True, False, True, True]
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= most


def test_a_key_knows_every_figure_and_the_engine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The last bit of one figure of the string, a place in a tuple, another engine: another key."""
    kept = KeptMaps(tmp_path)
    sounding = range_case.check(SMALL)
    string = sounding.string
    heavier = dataclasses.replace(
        string, mass_per_length_kg_m=float(np.nextafter(string.mass_per_length_kg_m, 1.0))
    )
    keys = {
        kept.key("range", {"sounding": sounding}),
        kept.key("range", {"sounding": dataclasses.replace(sounding, string=heavier)}),
        kept.key("starts", {"sounding": sounding}),
        kept.key("range", {"sounding": sounding, "speeds": (1.0, 2.0)}),
        kept.key("range", {"sounding": sounding, "speeds": (2.0, 1.0)}),
    }
    assert len(keys) == 5
    before = kept.key("range", {"sounding": sounding})
    assert before in keys
    monkeypatch.setattr(kept_maps, "engine_digest", lambda: "another engine")
    assert kept.key("range", {"sounding": sounding}) not in keys
    with pytest.raises(TypeError, match="cannot hold"):
        kept.key("range", {"function": print})
