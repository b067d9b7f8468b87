"""What an exercise asks, drawn: where the bow runs as the player sees it, and which part of the bow is used.

Bridge below and fingerboard above, turned for the cello, as `colophony.app.look.bowing` draws them. A shade
shows how far the bow may wander. Where a finger shortens the string the lanes draw together, as on the
instrument.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from colophony.app.look.bowing import place_height
from colophony.app.look.figures import with_unit
from colophony.app.look.pen import Pen
from colophony.app.look.signs import number
from colophony.app.look.tokens import INK, TEXT_FAMILY, Theme
from colophony.language import _, figures
from colophony.teaching.exercises.exercise import PARTS, Target
from colophony.teaching.sounding_points import POINTS

#: Ink with less of it: paler, and the fingerboard is drawn by its outline.
SAVING = replace(INK, name="saving", board=INK.line, ink=INK.quiet, quiet=INK.edge)

_WIDTH, _HEIGHT = 224.0, 300.0
_STRINGS = (70.0, 90.0, 110.0, 130.0)
_SPREAD = 1.22  # strings at the bridge against those at the fingerboard
_BOW_LEFT, _BOW_RIGHT, _BOW_Y = 12.0, 190.0, 286.0


def target_picture(
    targets: Sequence[Target], strings: Sequence[str], *, turned: bool, theme: Theme | None
) -> str:
    """Return the bowing place and the bow as SVG.

    Parameters
    ----------
    targets : of one exercise, the first is drawn; the strings of all are marked
    strings : the instrument's, lowest first, by letter
    turned : as a cellist sees it
    theme : None takes the colours of the page around it
    """
    target = targets[0]
    pen = Pen(theme)
    saving = theme is not None and theme.name == SAVING.name
    parts = [_instrument(pen, {one.string for one in targets}, strings, turned=turned, saving=saving)]
    parts.append(_lanes(pen, target, turned=turned))
    parts.append(_bows(pen, target, turned=turned))
    parts.append(_part(pen, target))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(_WIDTH)} {number(_HEIGHT)}" '
        f'width="{number(_WIDTH)}" height="{number(_HEIGHT)}" font-family="{TEXT_FAMILY}" '
        f'stroke-linecap="round" stroke-linejoin="round">{"".join(parts)}</svg>'
    )


def picture_words(targets: Sequence[Target]) -> str:
    """Return the picture in words, for those who hear the sheet."""
    target = targets[0]
    strings = ", ".join(dict.fromkeys(one.string for one in targets))
    begin, end = target.begin.distance_mm, target.end.distance_mm
    if abs(begin - end) < 0.05:
        return _("The bow on the {strings} string, {distance} from the bridge.").format(
            strings=strings, distance=_mm(begin)
        )
    return _("The bow on the {strings} string, moving from {begin} to {end} from the bridge.").format(
        strings=strings, begin=_mm(begin), end=_mm(end)
    )


def _bowable_mm(target: Target) -> float:
    """From the bridge to the fingerboard's end."""
    place = target.begin
    return POINTS * place.distance_open_mm / (place.sounding_point - 0.5)


def _height(distance_mm: float, target: Target, *, turned: bool) -> float:
    """Height in the drawing of a distance from the bridge, as it lies on the instrument."""
    return place_height(0.5 + POINTS * distance_mm / _bowable_mm(target), turned=turned)


def _instrument(pen: Pen, marked: set[str], strings: Sequence[str], *, turned: bool, saving: bool) -> str:
    ink = pen.paint("ink")
    wood = "M61 8H139L144 58Q100 66 56 58Z"
    drawn = [
        pen.path(wood, pen.paint("edge"), 1.4) if saving else pen.area(wood, pen.paint("board")),
    ]
    for k, (x, name) in enumerate(zip(_STRINGS, strings, strict=True)):
        foot = 100 + (x - 100) * _SPREAD
        is_marked = name in marked
        paint, width = (ink, 3.4) if is_marked else (pen.paint("edge"), 1.8 - 0.25 * k)
        drawn.append(pen.line([(x, 60.0), (foot, 236.0)], paint, width))
    drawn.append(pen.path("M48 218Q100 206 152 218", pen.paint("rosin"), 3.0 if saving else 6.0))
    half = ' transform="rotate(180 100 138)"' if turned else ""
    letters = []
    for x, name in zip(_STRINGS, strings, strict=True):
        foot = 100 + (x - 100) * _SPREAD
        across, y = (200.0 - foot, 34.0) if turned else (foot, 254.0)
        letters.append(
            pen.text(name, across, y, size=19, anchor="middle", bold=name in marked, paint=ink)
            if name in marked
            else pen.text(name, across, y, size=19, anchor="middle", paint=pen.paint("quiet"))
        )
    return f"<g{half}>{''.join(drawn)}</g>{''.join(letters)}"


def _lanes(pen: Pen, target: Target, *, turned: bool) -> str:
    """The sounding points of the note as played, and the shade of the room."""
    place = target.begin
    lane_mm = place.distance_mm / (place.sounding_point - 0.5)
    drawn = []
    span = place.distance_span_mm
    if span is not None and len(target.places) == 1:
        ys = sorted(_height(edge, target, turned=turned) for edge in span)
        room = f"M30 {number(ys[0])}H170V{number(ys[1])}H30Z"
        drawn.append(pen.area(room, pen.paint("rosin"), opacity=0.16))
    crowded = lane_mm < 0.7 * _bowable_mm(target) / POINTS
    for point in range(1, POINTS + 1):
        y = _height((point - 0.5) * lane_mm, target, turned=turned)
        drawn.append(pen.line([(24.0, y), (30.0, y)], pen.paint("quiet"), 1.2))
        if not crowded or point % 2:
            drawn.append(pen.text(str(point), 18, y + 6, size=19, anchor="end", paint=pen.paint("quiet")))
    return "".join(drawn)


def _bows(pen: Pen, target: Target, *, turned: bool) -> str:
    places = [target.begin.distance_mm, target.end.distance_mm]
    here, there = (_height(place, target, turned=turned) for place in places)
    drawn = [pen.line([(32.0, here), (162.0, here)], pen.paint("ink"), 6.0)]
    drawn.append(pen.text(_mm(places[0]), 166, here + 6, size=19, bold=True))
    if abs(there - here) > 4:
        drawn.append(pen.line([(32.0, there), (162.0, there)], pen.paint("ink"), 3.0, dash="6 6"))
        drawn.append(pen.text(_mm(places[1]), 166, there + 6, size=19, bold=True))
        way = 1.0 if there > here else -1.0
        tip = there - 5 * way
        drawn.append(
            pen.path(
                f"M44 {number(here + 7 * way)}V{number(tip)}M38 {number(tip - 7 * way)}L44 {number(tip)}"
                f"L50 {number(tip - 7 * way)}",
                pen.paint("rosin"),
                2.6,
            )
        )
    return "".join(drawn)


def _part(pen: Pen, target: Target) -> str:
    """The bow, frog to the right hand's side, the used part thick with a mark at each beat."""
    begin, end = PARTS[target.part]

    def across(share: float) -> float:
        return _BOW_RIGHT - share * (_BOW_RIGHT - _BOW_LEFT)

    ink, quiet = pen.paint("ink"), pen.paint("quiet")
    drawn = [
        pen.path(f"M{number(_BOW_LEFT)} {_BOW_Y}H{_BOW_RIGHT}", quiet, 1.2),
        pen.path(
            f"M{number(_BOW_LEFT)} {_BOW_Y}V{_BOW_Y - 12}Q100 {_BOW_Y - 7} 202 {_BOW_Y - 12}", quiet, 1.6
        ),
        pen.area(f"M{_BOW_RIGHT} {_BOW_Y - 10}h12v12h-12Z", quiet),
        pen.line([(across(begin), _BOW_Y), (across(end), _BOW_Y)], ink, 4.4),
    ]
    beats = round(target.beats)
    if beats == target.beats and beats > 1:
        for beat in range(beats + 1):
            x = across(begin + (end - begin) * beat / beats)
            drawn.append(pen.line([(x, _BOW_Y - 4), (x, _BOW_Y + 6)], ink, 1.4))
    return "".join(drawn)


def _mm(value: float) -> str:
    return with_unit(value, "mm") if value >= 10 else f"{figures(f'{value:.1f}')}\u00a0mm"
