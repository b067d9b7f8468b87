"""Maps as text for a terminal: a sentence first, then what speaks at each sounding point."""

from __future__ import annotations

import math
from typing import TextIO

from rich import box
from rich.console import Console
from rich.table import Table

from colophony.app import range_words, start_words
from colophony.app.look.figures import UNKNOWN as _NONE
from colophony.app.phrases import from_to
from colophony.app.ranges import Map, Ranges, points_m
from colophony.app.starts import REACHED_CM_S, Starts, reached_ms
from colophony.language import _
from colophony.physics.maps import SpeakingStroke
from colophony.teaching import wording
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader
from colophony.teaching.sounding_points import MIDDLE


def print_ranges(ranges: Ranges, *, reader: Reader, stream: TextIO) -> None:
    """Write the room at each sounding point to ``stream``, as wide as its terminal."""
    console = _console(stream)
    console.print(range_words.headline(ranges, reader=reader), style="bold")
    console.print(range_words.setting(ranges), style="dim")
    if moved := range_words.moved(ranges):
        console.print(moved)
    for one in ranges.maps:
        if one.points:
            console.print()
            console.print(_points(ranges, one, titled=len(ranges.maps) > 1))
    console.print()
    if any(one.points for one in ranges.maps):
        console.print(_(range_words.HOW_TO_READ))
    if beside := range_words.measured(ranges):
        console.print(beside)
    console.print(f"{_(range_words.LIMITS)} {caution('pain', reader=reader)}", style="dim")


#: Lines of the table of starts, at most.
_WEIGHTS_TOLD = 8


def print_starts(starts: Starts, *, reader: Reader, stream: TextIO) -> None:
    """Write how quickly the bow may set out under some of the weights to ``stream``."""
    console = _console(stream)
    console.print(start_words.headline(starts, reader=reader), style="bold")
    console.print(start_words.setting(starts), style="dim")
    console.print()
    console.print(_windows(starts))
    console.print()
    console.print(start_words.shares(starts))
    console.print(f"{_(start_words.LIMITS)} {caution('pain', reader=reader)}", style="dim")


def _windows(starts: Starts) -> Table:
    """Return a row for each of some weights: accelerations accepted, as a time, clean, by theory."""
    found = starts.map
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column(_("Weight\nN"))
    table.add_column(_("Accepted\nm/s²"))
    table.add_column(_("{speed} cm/s in\nms").format(speed=f"{REACHED_CM_S:g}"))
    table.add_column(_("Clean\nm/s²"))
    table.add_column(_("By theory\nm/s²"))
    count = len(found.weight_n)
    rows = sorted({round(k * (count - 1) / (_WEIGHTS_TOLD - 1)) for k in range(_WEIGHTS_TOLD)})
    usual = start_words.usual_row(starts)
    for i in sorted({*rows, *(() if usual is None else (usual,))}):
        weight = float(found.weight_n[i])
        least, greatest = (float(w[i]) for w in (found.bearable.least_m_s2, found.bearable.greatest_m_s2))
        known = not math.isnan(least)
        table.add_row(
            f"{range_words.figure(weight)}\n{wording.hand_weight(weight)}",
            _span(least, greatest),
            _span(reached_ms(greatest), reached_ms(least)) if known else _NONE,
            _span(float(found.clean.least_m_s2[i]), float(found.clean.greatest_m_s2[i])),
            _span(float(found.guettler_low_m_s2[i, 0]), float(found.guettler_high_m_s2[i, 1])),
            style="bold" if i == usual else None,
        )
    return table


def _span(least: float, greatest: float) -> str:
    if math.isnan(least) or math.isnan(greatest):
        return _NONE
    return from_to(range_words.figure(least), range_words.figure(greatest))


def _console(stream: TextIO) -> Console:
    return Console(file=stream, highlight=False, emoji=False, markup=False)


def _points(ranges: Ranges, one: Map, *, titled: bool) -> Table:
    """Return a row a sounding point, from the bridge on."""
    stopped = not ranges.sounding.is_open
    table = Table(
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        title=f"{one.speed_cm_s:g} cm/s" if titled else None,
        title_justify="left",
        title_style="bold",
    )
    table.add_column(_("Point\n"), justify="right")
    table.add_column(_("From bridge\nmm"), justify="right")
    if stopped:
        table.add_column(_("on the open\nstring, mm"), justify="right")
    table.add_column(_("Weight that speaks\nN"))
    table.add_column(_("Range\ndB"), justify="right")
    table.add_column(_("Place\nmm"))
    table.add_column(_("Speed\ncm/s"))
    opened = points_m(ranges.sounding, is_open=True)
    for k, point in enumerate(one.points):
        cells = [f"{k + 1}", f"{1000 * point.distance_m:.0f}"]
        if stopped:
            cells.append(f"{1000 * opened[k]:.0f}")
        if not point.speaks:
            table.add_row(*cells, "\n".join(range_words.readings(ranges, one)[k]), _NONE, _NONE, _NONE)
            continue
        least, greatest = point.weight_min_n, point.weight_max_n
        light, heavy = wording.hand_weight(least), wording.hand_weight(greatest)
        weights = from_to(range_words.figure(least), range_words.figure(greatest))
        if point.weight_is_open[1]:
            weights = _("{weight} or more").format(weight=weights)
        hand = _("about {weight}").format(weight=light) if light == heavy else from_to(light, heavy)
        room = point.wander
        table.add_row(
            *cells,
            f"{weights}\n{hand}",
            f"{point.range_db:.0f}",
            _NONE
            if room is None
            else from_to(f"{1000 * room.nearest_m:.0f}", f"{1000 * room.farthest_m:.0f}"),
            _speeds(point),
            style="bold" if k + 1 == MIDDLE else None,
        )
    return table


def _speeds(point: SpeakingStroke) -> str:
    if math.isnan(point.speed_min_m_s):
        return _NONE
    least, greatest = (range_words.figure(100 * v) for v in (point.speed_min_m_s, point.speed_max_m_s))
    return from_to(least, greatest)
