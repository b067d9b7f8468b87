"""A part of a score on its page: lines of music engraved by verovio, and where on them each note stands.

verovio (LGPL 3) draws the music; its drawing is taken apart into systems, one a line of music, so that what
belongs to a note can be drawn below it. Colours, typefaces and identifiers are left out: a drawing takes the
colour of whatever surrounds it. All lengths in px, a staff space being `STAFF_SPACE`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET
from xml.sax.saxutils import quoteattr

from colophony.errors import InputError
from colophony.language import N_, _

STAFF_SPACE = 9.0
#: verovio's units in a staff space, and in the unit in which it takes the width of a page.
_UNITS_A_SPACE, _UNITS_A_WIDTH = 180.0, 10.0
SCALE = STAFF_SPACE / _UNITS_A_SPACE
_SVG = "{http://www.w3.org/2000/svg}"
_NARROWEST = 200.0
_TALLEST = 60_000  # of verovio's page; longer pieces take several
_OPTIONS: dict[str, Any] = {
    "pageHeight": _TALLEST,
    "adjustPageHeight": True,
    "header": "none",
    "footer": "none",
    "breaks": "auto",
    "svgBoundingBoxes": True,
    "svgRemoveXlink": True,
    "xmlIdChecksum": True,
    "smuflTextFont": "none",
    "font": "Bravura",
} | {f"pageMargin{side}": 0 for side in ("Left", "Right", "Top", "Bottom")}
#: Of a score: what says how its own page is laid out.
_LAYOUT = ("defaults", "credit")
#: Groups of the drawing that are not drawn here: names of parts, braces, what is never seen.
_LEFT_OUT = {"label", "labelAbbr", "grpSym"}
#: Groups that may go on from one system to the next.
_SPANNING = {"slur", "tie", "lv", "hairpin", "octave", "trill", "gliss", "pedal", "ending"}
_STROKED = {"path", "polygon", "polyline", "ellipse", "rect"}
_KEPT_ATTRIBUTES = (
    "d", "points", "x", "y", "width", "height", "cx", "cy", "rx", "ry", "transform", "stroke-width",
    "stroke-linecap", "stroke-linejoin", "stroke-dasharray", "fill",
)  # fmt: skip
_BOLD = {"tempo", "reh", "ending"}
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
#: A metronome's notes in words, and with a dot.
_BEATS = {
    "half": (N_("half = {pace}"), N_("dotted half = {pace}")),
    "quarter": (N_("quarter = {pace}"), N_("dotted quarter = {pace}")),
    "eighth": (N_("eighth = {pace}"), N_("dotted eighth = {pace}")),
}


@dataclass(frozen=True, slots=True)
class Place:
    """Where a note or rest stands on a system, px."""

    left: float
    right: float

    @property
    def middle(self) -> float:
        """The middle of it."""
        return 0.5 * (self.left + self.right)


@dataclass(frozen=True, slots=True)
class Word:
    """Words in the music: where they begin, end or have their middle (``anchor``), px; how they are set."""

    text: str
    x: float
    y: float
    size: float
    anchor: str
    bold: bool


@dataclass(frozen=True, slots=True)
class System:
    """One line of music. ``drawing`` is SVG in px without its words, the top of its ink at 0."""

    first_measure: int  #: index on the page, from 0
    last_measure: int
    drawing: str
    words: tuple[Word, ...]
    height: float  #: of the ink
    places: Mapping[str, Place]  #: by the id of the note or rest
    bars: tuple[float, ...]  #: where bar lines stand
    music_left: float  #: behind clef, key and metre
    music_right: float


@dataclass(frozen=True, slots=True)
class Page:
    """A part as drawn: its lines of music, and the outlines of the glyphs in them by their names."""

    width: float
    systems: tuple[System, ...]
    glyphs: Mapping[str, str]  #: SVG path data, upside down and 1000 units to 4 staff spaces
    where: Mapping[str, tuple[int, float]]  #: system and middle of a note or rest, by its id


def engrave(root: ET.Element, part: int, *, width: float, left: float = 0.0) -> Page:
    """Return one part of a score as drawn on a page.

    Parameters
    ----------
    root : a score's tree, ``score-partwise``, of which only the part is left
    part : index of the part, from 0
    width : of the music, px, from 200
    left : where it begins, px

    Raises `InputError` where verovio is not installed or cannot draw the score.
    """
    try:
        import verovio
    except ImportError as error:
        raise InputError(
            _("drawing scores needs {package}: run pip install '.[score]' in Colophony's folder").format(
                package="verovio"
            )
        ) from error
    verovio.enableLog(verovio.LOG_OFF)
    # Where its glyphs lie is known to the thread that imported it, and to no other.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    toolkit.setOptions(_OPTIONS | {"pageWidth": round(max(width, _NARROWEST) / SCALE / _UNITS_A_WIDTH)})
    _leave_part(root, part)
    if not toolkit.loadData(ET.tostring(root, encoding="unicode")):
        raise InputError(_("this score cannot be drawn: export it again from the program that wrote it"))
    systems: list[System] = []
    glyphs: dict[str, str] = {}
    measure = 0
    for number in range(1, toolkit.getPageCount() + 1):
        page = ET.fromstring(toolkit.renderToSVG(number))
        glyphs |= dict(_glyphs(page))
        for group in page.iter(f"{_SVG}g"):
            if group.get("class") == "system":
                count = sum(1 for g in group.iter(f"{_SVG}g") if g.get("class") == "measure")
                systems.append(_system(group, measure, measure + count - 1, left))
                measure += count
    where = {
        id_: (row, place.middle) for row, system in enumerate(systems) for id_, place in system.places.items()
    }
    return Page(left + width, tuple(systems), glyphs, where)


def glyph_definitions(page: Page, prefix: str) -> str:
    """Return the glyphs as SVG ``defs``; ``prefix`` keeps them apart from those of another drawing."""
    return "<defs>{}</defs>".format(
        "".join(
            f'<path id="{prefix}{name}" transform="scale(1,-1)" d="{data}"/>'
            for name, data in sorted(page.glyphs.items())
        )
    )


def _leave_part(root: ET.Element, part: int) -> None:
    """Leave one part of the score alone, without its layout, its name and its lyrics."""
    chosen = root.findall("part")[part]
    for child in list(root):
        if child.tag in _LAYOUT or (child.tag == "part" and child is not chosen):
            root.remove(child)
    for listed in root.findall("part-list"):
        for entry in list(listed):
            if entry.tag != "score-part" or entry.get("id") != chosen.get("id"):
                listed.remove(entry)
                continue
            for element in list(entry):
                if element.tag in ("part-name", "part-abbreviation"):
                    element.text = ""
                elif element.tag in ("part-name-display", "part-abbreviation-display"):
                    entry.remove(element)
    for note in chosen.iter("note"):
        for lyric in note.findall("lyric"):
            note.remove(lyric)
    for kind in chosen.iter("direction-type"):
        _spell_metronome(kind)


def _spell_metronome(kind: ET.Element) -> None:
    """Write a metronome mark in words, which need no typeface of music."""
    mark = kind.find("metronome")
    if mark is None:
        return
    says, pace = _BEATS.get(mark.findtext("beat-unit", "")), mark.findtext("per-minute")
    kind.clear()
    words = ET.SubElement(kind, "words", {"font-weight": "bold"})
    words.text = "\u2002"
    if says and pace:
        words.text += _(says[mark.find("beat-unit-dot") is not None]).format(pace=pace)


def _glyphs(page: ET.Element) -> Iterator[tuple[str, str]]:
    for group in page.findall(f"{_SVG}defs/{_SVG}g"):
        outline = group.find(f"{_SVG}path")
        if outline is not None:
            yield group.get("id", "").partition("-")[0], outline.get("d", "")


def _system(group: ET.Element, first: int, last: int, margin: float) -> System:
    inks = list(_inks(group))
    staffs = [
        [float(number) for number in _NUMBER.findall(path.get("d", ""))]
        for staff in group.iter(f"{_SVG}g")
        if staff.get("class") == "staff"
        for path in staff.findall(f"{_SVG}path")
    ]
    left = min(s[0] for s in staffs) - margin / SCALE
    right = max(s[2] for s in staffs)
    top = min([s[1] for s in staffs] + [high for high, _low in inks])
    bottom = max([s[1] for s in staffs] + [low for _high, low in inks])
    places = {
        id_: Place(SCALE * (place.left - left), SCALE * (place.right - left))
        for id_, place in _places(group).items()
    }
    music = min((place.left for place in places.values()), default=0.0)
    bars = sorted({SCALE * (x - left) for x in _bars(group)})
    return System(
        first,
        last,
        f'<g transform="translate({-left * SCALE:.2f} {-top * SCALE:.2f}) scale({SCALE})">'
        f"{''.join(_drawn(group))}</g>",
        tuple(_words(group, left, top)),
        SCALE * (bottom - top),
        places,
        tuple(bars),
        music,
        SCALE * (right - left),
    )


def _is_box(group: ET.Element) -> bool:
    return "bounding-box" in (group.get("class") or "")


def _inks(group: ET.Element) -> Iterator[tuple[float, float]]:
    """Yield the highest and lowest y of everything drawn, in verovio's units.

    Its boxes say so, but for what may span systems: there the box is that of one piece of many, and the
    drawing itself is asked.
    """
    for element in group.iter(f"{_SVG}g"):
        if (element.get("class") or "").split(" ")[0] in _SPANNING:
            for line in element.iter():
                data = line.get("d") or line.get("points")
                heights = [float(number) for number in _NUMBER.findall(data or "")][1::2]
                if heights:
                    yield min(heights), max(heights)
            continue
        for text in element.findall(f"{_SVG}text"):
            size = _size(text)
            if size:
                yield float(text.get("y", "0")) - size, float(text.get("y", "0")) + 0.3 * size
        for box in (child for child in element if _is_box(child)):
            for rect in box.findall(f"{_SVG}rect"):
                y, height = float(rect.get("y", "0")), float(rect.get("height", "0"))
                if height:
                    yield y, y + height


def _places(group: ET.Element) -> dict[str, Place]:
    """Return where notes and rests stand, in verovio's units, by their ids."""
    found = {}
    for element in group.iter(f"{_SVG}g"):
        if element.get("class") in ("note", "rest", "mRest"):
            box = next((one for one in element if _is_box(one)), None)
            rect = None if box is None else box.find(f"{_SVG}rect")
            if rect is not None:
                x = float(rect.get("x", "0"))
                found[element.get("id", "")] = Place(x, x + float(rect.get("width", "0")))
    return found


def _bars(group: ET.Element) -> Iterator[float]:
    for element in group.iter(f"{_SVG}g"):
        if element.get("class") == "barLine":
            for path in element.findall(f"{_SVG}path"):
                yield float(_NUMBER.findall(path.get("d", ""))[0])


def _words(group: ET.Element, left: float, top: float, kind: str = "") -> Iterator[Word]:
    """Yield the words of a system; ``kind`` is the class around them."""
    for element in group:
        tag = element.tag.removeprefix(_SVG)
        if tag == "text":
            text = "".join(part.strip("\n\t") for part in element.itertext() if part.strip())
            size = _size(element)
            if text and size:
                yield Word(
                    text,
                    SCALE * (float(element.get("x", "0")) - left),
                    SCALE * (float(element.get("y", "0")) - top),
                    SCALE * size,
                    element.get("text-anchor", "start"),
                    bold=kind in _BOLD,
                )
        elif tag == "g" and not _is_left_out(element):
            yield from _words(element, left, top, _kind(element) or kind)


def _size(text: ET.Element) -> float:
    """Return the size of the largest letters of a text; 0 where there are none."""
    if not any(part.strip() for part in text.itertext()):
        return 0.0
    return max(float(_NUMBER.findall(one.get("font-size") or "0")[0]) for one in text.iter())


def _kind(group: ET.Element) -> str:
    return (group.get("class") or "").split(" ")[0]


def _is_left_out(group: ET.Element) -> bool:
    return _is_box(group) or _kind(group) in _LEFT_OUT or "placeholder" in (group.get("class") or "")


def _drawn(element: ET.Element) -> Iterator[str]:
    """Yield the drawing again without its words and what is not wanted of it."""
    tag = element.tag.removeprefix(_SVG)
    if tag == "text" or (tag == "g" and _is_left_out(element)):
        return
    attributes = "".join(
        f" {name}={quoteattr(value)}" for name in _KEPT_ATTRIBUTES if (value := element.get(name)) is not None
    )
    if tag == "use":
        name = element.get("href", "#").removeprefix("#").partition("-")[0]
        yield f'<use href="#@{name}"{attributes}/>'
    elif tag in _STROKED:
        yield f'<{tag} stroke="currentColor"{attributes}/>'
    elif "transform" in element.attrib:
        yield f"<g{attributes}>{''.join(part for child in element for part in _drawn(child))}</g>"
    else:
        for child in element:
            yield from _drawn(child)
