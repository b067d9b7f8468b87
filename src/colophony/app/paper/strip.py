"""Strips to cut out, true to scale: sounding points beside the string, beats along the bow.

Every length on these pages is set in mm and nothing is fitted to the page; a line of 100 mm on each shows
whether the printer kept it so (``docs/paper.md``).
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from colophony.app.look.figures import UNKNOWN, note, with_unit
from colophony.app.paper.strip_beats import BeatStrip
from colophony.app.paper.strip_pictures import roof_view, side_view
from colophony.app.paper.strip_points import PointMark, PointStrip
from colophony.app.paper.strip_words import BEATS, COLUMNS, MEASURE, POINTS, ROOF_VIEW, SIDE_VIEW
from colophony.app.paper.typeset import Paper, look, typeset, write_pdf
from colophony.app.phrases import capital
from colophony.errors import InputError
from colophony.language import _, figures
from colophony.teaching import wording
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader, Say

_TEMPLATE = Path(__file__).with_name("strip.typ")
#: Half the width of a strip beside the string, folded, mm.
_FACE_MM = 17.0
_GAP_MM = 5.0
#: The end that the strings hold down on the fingerboard, mm: 0.8 of the bowable length, no longer than this.
_TONGUE_SHARE, _LONGEST_TONGUE_MM = 0.8, 45.0
#: Strips on one page, one beside the other.
MOST_STRIPS = 4
#: Longest piece of a bow's strip, mm, without its tab, and the tab that the next piece is glued to.
_PIECE_MM = {"a4": 215.0, "us-letter": 195.0}
_TAB_MM = 12.0
_TAB_LETTERS = "ABCDEFGH"


def make_strips(
    out: Path,
    *,
    points: Sequence[PointStrip] = (),
    beats: Sequence[BeatStrip] = (),
    reader: Reader = "adult",
    paper: Paper = "a4",
    date: datetime.date,
) -> None:
    """Write strips as a PDF true to scale: one page of sounding points, then one for each bow.

    Parameters
    ----------
    out : the file to write, replaced when it exists
    points : up to `MOST_STRIPS` strips of one instrument
    beats : strips for the bow
    reader : in whose words
    paper : "a4" (ISO 216) or "us-letter"
    date : written into the file

    Raises `InputError` for no strip, too many or of several instruments, and when the file cannot be written.
    """
    told = strip_words(points, beats, reader=reader, paper=paper)
    write_pdf(typeset(_TEMPLATE, told, date=date), out)


def strip_words(
    points: Sequence[PointStrip], beats: Sequence[BeatStrip], *, reader: Reader, paper: Paper
) -> dict[str, Any]:
    """Return what the pages say and draw, as plain JSON values, lengths in mm; raises as `make_strips`."""
    if not points and not beats:
        raise InputError(_("there is no strip to print: choose a string or a tempo"))
    if len(points) > MOST_STRIPS:
        raise InputError(
            _("{count} strips do not fit on one page: choose up to {most}").format(
                count=len(points), most=MOST_STRIPS
            )
        )
    if len({(strip.sounding.instrument.name, strip.sounding.instrument.size) for strip in points}) > 1:
        raise InputError(_("one page of strips is for one instrument: make a file for each"))
    pages: list[dict[str, Any]] = []
    if points:
        pages.append(_points_page(points, reader))
    pages += [_beats_page(strip, reader, paper) for strip in beats]
    return {
        "pages": pages,
        "paper": paper,
        "title": pages[0]["title"],
        "measure": _(MEASURE),
        "check_mm": 100.0,
        "look": look(),
    }


def _points_page(strips: Sequence[PointStrip], reader: Reader) -> dict[str, Any]:
    first = strips[0]
    name, size = first.sounding.instrument.name, first.sounding.instrument.size
    turned = name == "cello"
    bowable_mm = 1000.0 * first.bowable_m
    return {
        "kind": "points",
        **_said(POINTS, reader),
        "pain": caution("pain", reader=reader),
        "setting": _("{instrument} {size}, bow at {speed}, hair flat").format(
            instrument=capital(_(name)), size=size, speed=_speed(first.speed_cm_s)
        ),
        "source": _source(strips) if reader != "child" else "",
        "picture": side_view(turned=turned),
        "picture_alt": _(SIDE_VIEW),
        "turned": turned,
        "face_mm": _FACE_MM,
        "gap_mm": _GAP_MM,
        "bowable_mm": bowable_mm,
        "tongue_mm": min(_TONGUE_SHARE * bowable_mm, _LONGEST_TONGUE_MM),
        "bridge": _("bridge"),
        "board": _("fingerboard"),
        "columns": [_(name) for name in COLUMNS],
        "strips": [_point_strip(strip, reader) for strip in strips],
    }


def _point_strip(strip: PointStrip, reader: Reader) -> dict[str, Any]:
    sounding = strip.sounding
    is_open = sounding.is_open
    return {
        "letter": sounding.string.name,
        "note": note(sounding.note),
        "how": _("open string") if is_open else _("stopped"),
        "instrument": f"{capital(_(sounding.instrument.name))} {sounding.instrument.size}",
        "speed": _speed(strip.speed_cm_s),
        "alt": _strip_alt(strip),
        "title": _("{string} string, {note}").format(string=sounding.string.name, note=note(sounding.note)),
        "rows": [_row(mark, strip, reader) for mark in strip.marks],
        "marks": [_mark(mark, strip) for mark in strip.marks],
    }


def _mark(mark: PointMark, strip: PointStrip) -> dict[str, Any]:
    room = None
    if mark.room_m is not None:
        end_mm = 1000.0 * strip.bowable_m
        nearest, farthest = (min(1000.0 * edge, end_mm) for edge in mark.room_m)
        room = {"from_mm": nearest, "to_mm": farthest, "goes_on": _goes_on(mark, strip)}
    return {
        "number": str(mark.number),
        "at_mm": 1000.0 * mark.distance_m,
        "mm": f"{1000.0 * mark.distance_m:.0f}",
        "weight": newtons(mark.weight_n) if room else UNKNOWN,
        "room": room,
    }


def _goes_on(mark: PointMark, strip: PointStrip) -> bool:
    """Whether the tone holds as far as the fingerboard reaches."""
    return mark.room_m is not None and (mark.is_open[1] or mark.room_m[1] > strip.bowable_m)


def _row(mark: PointMark, strip: PointStrip, reader: Reader) -> list[str]:
    """Return one line of the table: point, place, room, weight."""
    place = _mm(1000.0 * mark.distance_m)
    if mark.room_m is None or mark.weight_n is None:
        return [str(mark.number), place, UNKNOWN, _("no clear tone at this speed")]
    nearest, farthest = (_mm(1000.0 * edge) for edge in mark.room_m)
    room = _("{nearest} to {farthest}").format(nearest=nearest, farthest=farthest)
    if _goes_on(mark, strip):
        room = _("{nearest} to the fingerboard").format(nearest=nearest)
    thing = wording.hand_weight(mark.weight_n)
    weight = thing if reader == "child" else f"{thing} ({newtons(mark.weight_n)})"
    return [str(mark.number), place, room, weight]


def newtons(weight_n: float | None) -> str:
    """Return a weight with two figures: ``0.67 N``; the dash where it is not known."""
    if weight_n is None or weight_n <= 0.0:
        return UNKNOWN
    digits = max(0, 1 - math.floor(math.log10(weight_n)))
    return with_unit(weight_n, "N", digits)


def _strip_alt(strip: PointStrip) -> str:
    """Return a strip in words: a sentence a sounding point."""
    sounding = strip.sounding
    told = [
        _("Strip for the {string} string, {note}.").format(
            string=sounding.string.name, note=note(sounding.note)
        )
    ]
    for mark in strip.marks:
        place = _mm(1000.0 * mark.distance_m)
        if mark.room_m is None or mark.weight_n is None:
            told.append(
                _("Sounding point {number}: {place} from the bridge, no clear tone.").format(
                    number=mark.number, place=place
                )
            )
        else:
            told.append(
                _(
                    "Sounding point {number}: {place} from the bridge; about the weight of {thing}, the tone "
                    "holds from {nearest} to {farthest}."
                ).format(
                    number=mark.number,
                    place=place,
                    thing=wording.hand_weight(mark.weight_n),
                    nearest=_mm(1000.0 * mark.room_m[0]),
                    farthest=_mm(1000.0 * mark.room_m[1]),
                )
            )
    return " ".join(told)


def _source(strips: Sequence[PointStrip]) -> str:
    if all(strip.is_computed for strip in strips):
        return _("Rooms computed for this size and string by simulating the bowed string.")
    return _("Rooms by limits measured on one string, carried to this one (Schoonderwaldt et al. 2008).")


def _beats_page(strip: BeatStrip, reader: Reader, paper: Paper) -> dict[str, Any]:
    count = math.ceil(strip.hair_mm / _PIECE_MM[paper] - 1e-9)
    length = strip.hair_mm / count
    return {
        "kind": "beats",
        **_said(BEATS, reader),
        "pain": caution("pain", reader=reader),
        "setting": _(
            "{instrument} {size}: {beats} beats a bow at {tempo} beats a minute, {seconds} a bow, {speed}"
        ).format(
            instrument=capital(_(strip.instrument)),
            size=strip.size,
            beats=strip.beats,
            tempo=figures(f"{strip.tempo:g}"),
            seconds=with_unit(strip.seconds, "s", 1),
            speed=_speed(strip.speed_cm_s),
        ),
        "source": ""
        if reader == "child"
        else _("Length of the hair: {length}. If yours is longer, the strip ends before the tip.").format(
            length=_mm(strip.hair_mm)
        ),
        "picture": roof_view(),
        "picture_alt": _(ROOF_VIEW),
        "hair_mm": strip.hair_mm,
        "beats": strip.beats,
        "down": _("down-bow"),
        "up": _("up-bow"),
        "alt": _(
            "Strip for the stick, {length} from frog to tip in {count} pieces, with a line at each of "
            "{beats} beats."
        ).format(length=_mm(strip.hair_mm), count=count, beats=strip.beats),
        "frog": _("frog"),
        "tip": _("tip"),
        "tab_mm": _TAB_MM,
        "pieces": [_piece(strip, k, count, length) for k in range(count)],
    }


def _piece(strip: BeatStrip, k: int, count: int, length: float) -> dict[str, Any]:
    """Return one piece; a mark on a joint is drawn on both sides of it, so that the lines can meet."""
    start, end = k * length, (k + 1) * length
    slack = 1e-6
    return {
        "from_mm": start,
        "length_mm": length,
        "joins": _TAB_LETTERS[k - 1] if k else "",
        "tab": _TAB_LETTERS[k] if k < count - 1 else "",
        "marks": [
            {"beat": beat, "at_mm": place - start}
            for beat, place in enumerate(strip.marks_mm)
            if start - slack <= place <= end + slack
        ],
        "halves": [
            place - start
            for place in (strip.hair_mm * (beat + 0.5) / strip.beats for beat in range(strip.beats))
            if start <= place <= end
        ],
    }


def _said(words: Any, reader: Reader) -> dict[str, str]:
    said: dict[str, str] = {}
    for key, say in words.items():
        assert isinstance(say, Say)
        said[key] = say.to(reader)
    return said


def _mm(value: float) -> str:
    return with_unit(value, "mm")


def _speed(speed_cm_s: float) -> str:
    return f"{figures(f'{speed_cm_s:.3g}')}\u00a0cm/s"
