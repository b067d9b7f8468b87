"""Strokes in a few words, for the page, the picture and the annotated score."""

from __future__ import annotations

from itertools import groupby

from colophony.app.score.values import PlannedScore
from colophony.language import N_, _, figures
from colophony.teaching.score import words
from colophony.teaching.score.piece import Remark
from colophony.teaching.score.strokes import Stroke, telling

#: What will not go, in a few words that stand under the music.
_SHORT = {
    "hair-out": N_("hair runs out"),
    "no-time": N_("no time to set the bow"),
    "no-room": N_("no clear tone"),
    "narrow": N_("little room"),
    "too-soft": N_("too soft"),
    "too-loud": N_("too loud"),
    "turned-repeat": N_("turned when repeated"),
    "reach": N_("out of reach"),
    "double-stop": N_("no double stop"),
}
#: Of these, what makes a stroke fail; the others only ask for care.
_FAULTS = ("hair-out", "no-time", "no-room", "reach", "double-stop")
#: Places along the bow have a name by quarters of the hair.
_QUARTERS = 4


def place_word(at_mm: float, bow_mm: float) -> str:
    """Return where on the bow a place in mm from the frog is, to the nearest quarter of the hair."""
    step = round(_QUARTERS * min(max(at_mm / bow_mm, 0.0), 1.0))
    return (_("frog"), "¼", _("middle"), "¾", _("tip"))[step]


def stroke_words(stroke: Stroke, bow_mm: float) -> str:
    """Return from where to where on the bow a stroke goes: "frog–middle"; one place where it is short."""
    start, end = place_word(stroke.start_at_mm, bow_mm), place_word(stroke.end_at_mm, bow_mm)
    return start if start == end else f"{start}–{end}"


def point_words(stroke: Stroke) -> str:
    """Return the sounding point of a stroke, and where it leads: "point 3", "point 4→2"."""
    return _("point {point}").format(point=point_span(stroke))


def point_span(stroke: Stroke) -> str:
    """Return the sounding point of a stroke, and where it leads, in figures: "3", "4→2", "4→3→4"."""
    points = [moment.sounding_point for moment in telling(stroke.path)] or [stroke.sounding_point]
    return "→".join(figure for figure, _same in groupby(map(point_figure, points)))


def weight_words(stroke: Stroke) -> str:
    """Return the weight of a stroke, and where it leads: "0.8 N", "0.5→1.2 N"."""
    return _("{weight} N").format(weight=weight_span(stroke))


def weight_span(stroke: Stroke) -> str:
    """Return the weight of a stroke, and where it leads, N in figures: "0.8", "0.5→1.2"."""
    weights = [moment.weight_n for moment in telling(stroke.path)] or [stroke.weight_n]
    if max(weights) - min(weights) < 0.1 * max(weights):
        weights = weights[:1]
    return figures("→".join(f"{weight:.2g}" for weight in weights))


def point_figure(point: float) -> str:
    """Return a sounding point to the nearest half, as players count: "3", "2½"."""
    halves = round(2.0 * point)
    return f"{halves // 2 or ''}{'½' if halves % 2 else ''}"


def direction_word(stroke: Stroke) -> str:
    """Return the way of a stroke in words."""
    if stroke.is_plucked:
        return _("plucked")
    return _("down-bow") if stroke.direction == "down" else _("up-bow")


def where(stroke: Stroke) -> str:
    """Return where on the page a stroke begins: "measure 5, beat 2"."""
    beat = figures(f"{stroke.beat:.4g}")
    if stroke.passing > 1:
        return _("measure {measure}, beat {beat}, repeated").format(measure=stroke.measure, beat=beat)
    return _("measure {measure}, beat {beat}").format(measure=stroke.measure, beat=beat)


def notes_words(stroke: Stroke) -> str:
    """Return the notes of a stroke as the language's players call them; of many the first and the last."""
    names = [words.notes(one) for one in stroke.notes]
    if len(names) > 4:
        return f"{names[0]} … {names[-1]}"
    return " ".join(names)


def told(stroke: Stroke, planned: PlannedScore) -> str:
    """Return a whole stroke in a sentence for who plays it."""
    place = where(stroke)
    if stroke.is_plucked:
        return _("Stroke {number}, {where}: {notes}, plucked.").format(
            number=stroke.index + 1, where=place, notes=notes_words(stroke)
        )
    return _(
        "Stroke {number}, {where}: {direction}, {place}, {hair} mm of hair in {seconds} s; {point}, {weight}."
    ).format(
        number=stroke.index + 1,
        where=place,
        direction=direction_word(stroke),
        place=stroke_words(stroke, planned.plan.bow_mm),
        hair=f"{stroke.hair_used_mm:.0f}",
        seconds=figures(f"{stroke.seconds:.1f}"),
        point=point_words(stroke),
        weight=weight_words(stroke),
    )


def is_short(stroke: Stroke) -> bool:
    """Tell whether the hair runs out in a stroke."""
    return any(remark.name == "hair-out" for remark in stroke.remarks)


def short_remark(remark: Remark) -> str:
    """Return a remark in a few words."""
    return _(_SHORT[remark.name]) if remark.name in _SHORT else _("take care")


def is_fault(remark: Remark) -> bool:
    """Tell whether a stroke fails with a remark, and does not only ask for care."""
    return remark.name in _FAULTS
