"""A bow plan as text for a terminal: a sentence first, then a row a stroke, measure by measure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TextIO

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from colophony.app.cli.lines import one_line
from colophony.app.score.values import PlannedScore
from colophony.language import _, figures, ngettext
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader
from colophony.teaching.score import words
from colophony.teaching.score.strokes import Plan, Stroke, telling

#: The bow as text, frog on the left.
_WIDE = 12
#: Notes of a stroke that are named; of a longer one the first and the last.
_NOTES = 4
#: Behind the way of a stroke.
_ANEW, _LINKED = "*", "="


def print_plan(planned: PlannedScore, *, reader: Reader, stream: TextIO) -> None:
    """Write a plan to ``stream``, as wide as its terminal.

    A measure that is repeated with the same bowing stands once.
    """
    console = Console(file=stream, highlight=False, emoji=False, markup=False)
    plan = planned.plan
    console.print(Text(words.headline(plan), style="bold"))
    console.print(Text(setting(planned), style="dim"))
    for remark in plan.remarks:
        console.print(Text(_("Note: {warning}").format(warning=words.remark(remark, reader=reader))))
    for stroke in plan.strokes:
        for line in _lines(stroke, reader):
            console.print(line)
    console.print()
    console.print(_table(plan))
    told = len(list(_told(plan)))
    if told < len(plan.strokes):
        count = len(plan.strokes) - told
        console.print(
            Text(
                ngettext(
                    "{n} stroke of a repeat goes as the first time.",
                    "{n} strokes of a repeat go as the first time.",
                    count,
                ).format(n=count),
                style="dim",
            )
        )
    console.print(
        Text(
            _(
                "Bow: frog on the left, tip on the right; > down, < up. * set anew, = linked with a stop. "
                "Point: 1 at the bridge, 5 at the fingerboard. Weight: the middle of what the string bears "
                "there. Directions and places follow the trade's usual rules; your teacher may want others."
            ),
            style="dim",
        )
    )
    console.print(Text(caution("pain", reader=reader), style="dim"))


def setting(planned: PlannedScore) -> str:
    """Return with what the plan was made, in a line."""
    plan = planned.plan
    return _(
        "{title}: {part}, {instrument} {size}, {hair} mm of hair, {tempo} quarter notes a minute"
    ).format(
        title=one_line(planned.score.title),
        part=one_line(plan.part),
        instrument=_(plan.instrument),
        size=plan.size,
        hair=figures(f"{plan.bow_mm:g}"),
        tempo=figures(f"{plan.quarters_per_minute:.3g}"),
    )


def _lines(stroke: Stroke, reader: Reader) -> Iterator[Text]:
    """Yield what will not go in a stroke, and what to do about it."""
    for remark in stroke.remarks:
        yield Text(f"! {words.remark(remark, reader=reader)}")
    for way in stroke.alternatives:
        yield Text(f"  - {words.alternative(way, stroke, reader=reader)}", style="dim")


def _table(plan: Plan) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=0)
    table.add_column(_("Measure"), justify="right", no_wrap=True)
    table.add_column(_("Beat"), justify="right", no_wrap=True)
    table.add_column(_("Way"), no_wrap=True)
    table.add_column(_("Notes"), min_width=8)
    table.add_column(_("Bow"), no_wrap=True)
    for name in (_("Hair\nmm"), _("Speed\ncm/s"), _("Point"), _("Weight\nN"), _("Room\ndB")):
        table.add_column(name, justify="right", no_wrap=True)
    before = ""
    for stroke in _told(plan):
        measure = stroke.measure if stroke.passing == 1 else f"{stroke.measure} ({stroke.passing})"
        style = "bold" if stroke.remarks else None
        head = (
            "" if measure == before else measure,
            figures(f"{stroke.beat:.3g}"),
            _way(stroke),
            _notes(stroke),
        )
        before = measure
        if stroke.is_plucked:
            table.add_row(*head, *[""] * 6, style=style)
            continue
        path = telling(stroke.path)
        table.add_row(
            *head,
            strip(stroke, plan.bow_mm),
            f"{stroke.hair_used_mm:.0f}",
            _span([moment.speed_cm_s for moment in path], "{:.0f}"),
            _span([moment.sounding_point for moment in path], "{:.1f}"),
            _span([moment.weight_n for moment in path], "{:.2g}") if stroke.weight_n else "-",
            "-" if stroke.range_db is None else f"{stroke.range_db:.0f}",
            style=style,
        )
    return table


def _told(plan: Plan) -> Iterator[Stroke]:
    """Yield the strokes that are shown: a repeat only where it is bowed otherwise than the first time."""
    first = {}
    for stroke in plan.strokes:
        key = (stroke.measure_index, stroke.beat)
        if stroke.passing == 1:
            first[key] = stroke.direction
        if stroke.passing == 1 or first.get(key) != stroke.direction:
            yield stroke


def strip(stroke: Stroke, bow_mm: float) -> str:
    """Return the bow from frog to tip with the stroke on it: ``|..--->......|``."""
    low, high = sorted((stroke.start_at_mm, stroke.end_at_mm))
    first = min(_WIDE - 1, int(_WIDE * low / bow_mm))
    last = min(_WIDE - 1, max(first, round(_WIDE * high / bow_mm) - 1))
    signs = ["."] * _WIDE
    signs[first : last + 1] = ["-"] * (last - first + 1)
    down = stroke.direction == "down"
    signs[last if down else first] = ">" if down else "<"
    return f"|{''.join(signs)}|"


def _way(stroke: Stroke) -> str:
    if stroke.is_plucked:
        return _("plucked")
    way = _("down") if stroke.direction == "down" else _("up")
    return way + (_ANEW if stroke.is_retake else _LINKED if stroke.is_linked else "")


def _notes(stroke: Stroke) -> str:
    named = [words.notes(one) for one in stroke.notes]
    if len(named) > _NOTES:
        named = [*named[: _NOTES - 2], "...", named[-1]]
    return " ".join(named)


def _span(values: Sequence[float], form: str) -> str:
    """Return one figure, or from where to where; the way back from a turn on a line of its own."""
    told = [figure for figure, _same in groupby(form.format(value) for value in values)]
    return figures("\n-".join(["-".join(told[:2]), *told[2:]]))
