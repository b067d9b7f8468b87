"""The pieces of a plan's page: sentences, warnings with ways out, the table, and what the script needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from colophony.app.phrases import capital
from colophony.app.score.changing import SPLIT, Change, change_for, measure_of
from colophony.app.score.moving import clock_of
from colophony.app.score.picture import DrawnLine
from colophony.app.score.playing import Block
from colophony.app.score.saying import (
    direction_word,
    notes_words,
    place_word,
    point_span,
    short_remark,
    told,
    weight_span,
    where,
)
from colophony.app.score.values import PlannedScore
from colophony.app.web.score_asked import Asked
from colophony.language import _, figures
from colophony.teaching.findings import Reader
from colophony.teaching.score import words
from colophony.teaching.score.strokes import Alternative, Stroke

Row = tuple[int, list[str], str]


@dataclass(frozen=True, slots=True)
class Shown:
    """A plan on a page: what was asked, under which key, in whose words."""

    planned: PlannedScore
    asked: Asked
    key: str
    reader: Reader

    def sound_address(self, stroke: Stroke) -> str:
        """Return the address of a stroke's sound; empty for a plucked one."""
        if stroke.is_plucked:
            return ""
        return self.asked.address(self.key, f"stroke-{stroke.index + 1}.wav")


def warnings_of(shown: Shown) -> list[dict[str, Any]]:
    """Return the strokes that will not go: where, why, and the ways out, with addresses that take them."""
    return [
        {
            "number": stroke.index + 1,
            "where": capital(where(stroke)),
            "short": ", ".join(short_remark(remark) for remark in stroke.remarks),
            "sentences": [words.remark(remark, reader=shown.reader) for remark in stroke.remarks],
            "ways": [_way(shown, stroke, way) for way in stroke.alternatives],
        }
        for stroke in shown.planned.plan.failing
    ]


def _way(shown: Shown, stroke: Stroke, way: Alternative) -> tuple[str, str]:
    """Return a way out in words, and the address of the page with it; empty where no address can take it."""
    address = ""
    if way.change == "faster-tempo" and way.tempo is not None:
        address = replace(shown.asked, tempo=f"{way.tempo:g}").address(shown.key)
    else:
        change = change_for(shown.planned.part, stroke, way)
        if change is not None:
            address = shown.asked.with_change(str(change)).address(shown.key)
    return words.alternative(way, stroke, reader=shown.reader), address


def remarks_of(shown: Shown) -> list[str]:
    """Return what could not be read of the part."""
    return [words.remark(remark, reader=shown.reader) for remark in shown.planned.plan.remarks]


def changes_of(shown: Shown) -> list[tuple[str, str]]:
    """Return what was changed by hand, and the addresses that take it back."""
    found = []
    for text in shown.asked.changes:
        change = Change.read(text)
        measure = measure_of(shown.planned.score, change.element_id) or "?"
        says = (
            _("Measure {measure}: the slur is split.")
            if change.kind == SPLIT
            else _("Measure {measure}: the written sign of direction is left out.")
        )
        found.append((says.format(measure=measure), shown.asked.without(text).address(shown.key)))
    return found


def table_of(shown: Shown) -> list[Row]:
    """Return every stroke as a row: number, cells, and the address of its sound."""
    plan = shown.planned.plan
    return [
        (stroke.index + 1, _cells(stroke, plan.bow_mm), shown.sound_address(stroke))
        for stroke in plan.strokes
    ]


def table_head() -> list[str]:
    """Return the heads of the table's columns."""
    return [
        _("Stroke"), _("Where"), _("Notes"), _("Bow"), _("Why"), _("From"), _("To"), _("Time, s"),
        _("Hair, mm"), _("Speed, cm/s"), _("From the bridge, mm"), _("Sounding point"),
        _("Weight, N"), _("Range, dB"), _("Remarks"),
    ]  # fmt: skip


def _cells(stroke: Stroke, bow_mm: float) -> list[str]:
    way = direction_word(stroke)
    if stroke.is_retake:
        way = _("{direction}, set anew").format(direction=way)
    cells = [where(stroke), notes_words(stroke), way, words.rule(stroke.rule)]
    remarks = ", ".join(short_remark(remark) for remark in stroke.remarks) or "–"
    if stroke.is_plucked:
        return [*cells, *["–"] * 9, remarks]
    return [
        *cells,
        place_word(stroke.start_at_mm, bow_mm),
        place_word(stroke.end_at_mm, bow_mm),
        figures(f"{stroke.seconds:.2f}"),
        f"{stroke.hair_used_mm:.0f}",
        figures(f"{stroke.speed_cm_s:.1f}"),
        f"{stroke.distance_mm:.0f}",
        point_span(stroke),
        weight_span(stroke),
        "–" if stroke.range_db is None else f"{stroke.range_db:.0f}",
        remarks,
    ]


def sound_words() -> str:
    """Return what the sound is and what it is not."""
    return _(
        "Each stroke is bowed by the string that Colophony computes, at the planned place, weight and "
        "speed. There is no vibrato and no room, notes go from one to the next without an expression of "
        "their own, and what is plucked stays silent."
    )


def scene_of(
    shown: Shown, *, blocks: Sequence[Block], wide: Sequence[DrawnLine], narrow: Sequence[DrawnLine]
) -> dict[str, Any]:
    """Return what the page's script needs: strokes and blocks in time, and where on the page time passes."""
    clock = clock_of(shown.planned)
    return {
        "strokes": [
            {
                "start_s": round(clock.at(stroke.onset_ql), 4),
                "end_s": round(clock.at(stroke.onset_ql + stroke.duration_ql), 4),
                "says": _said(stroke, shown),
                "address": shown.sound_address(stroke),
            }
            for stroke in shown.planned.plan.strokes
        ],
        "blocks": [
            {"start_s": round(one.start_s, 4), "address": shown.asked.address(shown.key, f"block-{k}.wav")}
            for k, one in enumerate(blocks)
        ],
        "lines": {"wide": _times(wide), "narrow": _times(narrow)},
    }


def _said(stroke: Stroke, shown: Shown) -> str:
    remarks = (words.remark(remark, reader=shown.reader) for remark in stroke.remarks)
    return " ".join([told(stroke, shown.planned), *remarks])


def _times(lines: Sequence[DrawnLine]) -> list[list[list[tuple[float, float]]]]:
    return [[[(round(t, 3), round(x, 1)) for t, x in run] for run in line.beats] for line in lines]
