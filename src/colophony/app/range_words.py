"""What the maps of a string say, in words: command line and picture tell the same."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from colophony.app.look.figures import UNKNOWN, note
from colophony.app.ranges import Map, Ranges, narrow_from_m, points_m
from colophony.teaching import wording
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader
from colophony.teaching.sounding_points import MIDDLE

if TYPE_CHECKING:
    from colophony.app.look.map_picture import Panel

_THIN = "\u2009"

#: How the table of sounding points is read.
HOW_TO_READ = (
    "Each point is one stroke in the middle of its range: weight, place or speed alone may wander so far."
)
#: What is not to be forgotten before the figures are believed.
LIMITS = (
    "Computed for a typical string under a steady bow: a guide, no law, and roughest for the least weight. "
    "Ears and hand decide; weight is the arm's, never a squeeze of the hand."
)


def headline(ranges: Ranges, *, reader: Reader) -> str:
    """Return how much room there is in the middle, and where it closes toward the bridge."""
    if len(ranges.maps) > 1:
        return _of_speeds(ranges, reader=reader)
    (one,) = ranges.maps
    span = middle_weights_n(ranges, one)
    speed = _cm_s(one.speed_cm_s)
    if span is None:
        return _no_middle(one, speed, reader=reader)
    least, greatest = span
    middle_m = points_m(ranges.sounding)[MIDDLE - 1]
    narrow_m = narrow_from_m(one.steady.ranges, inside_m=middle_m)
    light, heavy = wording.hand_weight(least), wording.hand_weight(greatest)
    if reader == "teacher":
        is_open = bool(one.points) and one.points[MIDDLE - 1].weight_is_open[1]
        room = (
            f"At {speed} the middle sounding point bears {span_n(least, greatest, is_open=is_open)}: "
            f"{db(least, greatest)}."
        )
        if narrow_m is None:
            place_m, span_db = _nearest(one)
            return f"{room} Towards the bridge it narrows to {span_db:.0f}{_THIN}dB at {_mm(place_m)}."
        return (
            f"{room} Towards the bridge the range closes: less than 6{_THIN}dB nearer than {_mm(narrow_m)}."
        )
    if reader == "child" and light == heavy:
        return f"In the middle, the string sings under about the weight of {light}."
    if reader == "child":
        room = f"In the middle, the bow may be as light as {light} or as heavy as {heavy}: the string sings."
        return room if narrow_m is None else f"{room} Near the bridge it is much more choosy."
    span_words = (
        f"about the weight of {light}, give or take:"
        if light == heavy
        else f"about the weight of {light} and still with that of {heavy}:"
    )
    room = (
        f"At {speed}, midway between bridge and fingerboard, the string sings with {span_words} "
        f"{_times(greatest / least)}."
    )
    if narrow_m is None:
        place_m, span_db = _nearest(one)
        return f"{room} At {_mm(place_m)} from the bridge it is only {10 ** (span_db / 20):.2g}{_THIN}times."
    return f"{room} Nearer than {_mm(narrow_m)} to the bridge hardly any room is left."


def _nearest(one: Map) -> tuple[float, float]:
    """Nearest distance in m, and the range there in dB."""
    computed = one.steady.ranges
    k = int(np.argmin(computed.played_distance_m))
    return float(computed.played_distance_m[k]), float(computed.range_db[k])


def middle_weights_n(ranges: Ranges, one: Map) -> tuple[float, float] | None:
    """Return least and greatest weight in N at the middle sounding point, None where nothing speaks."""
    if one.points:
        point = one.points[MIDDLE - 1]
        return (point.weight_min_n, point.weight_max_n) if point.speaks else None
    least, greatest = one.steady.ranges.limits_at(points_m(ranges.sounding)[MIDDLE - 1])
    return None if math.isnan(least) else (least, greatest)


def setting(ranges: Ranges) -> str:
    """Return what was asked: string, note, hair, speed, length of each stroke."""
    request = ranges.request
    hair = "hair flat" if request.tilt_deg == 0 else f"hair tilted by {request.tilt_deg:g} degrees"
    speeds = _listed([figure(one.speed_cm_s) for one in ranges.maps])
    stopped = "" if ranges.is_finished else " Stopped early: what is finished is shown."
    return f"{ranges.sounding.describe()}. {speeds}{_THIN}cm/s, {hair}.{stopped}"


def moved(ranges: Ranges) -> str:
    """Return how the sounding points move with a stopped note; empty on the open string."""
    sounding = ranges.sounding
    if sounding.is_open:
        return ""
    share = sounding.length_m / sounding.string.sounding_length_m
    here, before = points_m(sounding)[MIDDLE - 1], points_m(sounding, is_open=True)[MIDDLE - 1]
    return (
        f"With {note(sounding.note)} stopped, {100 * share:.0f}{_THIN}% of the string sounds and the "
        f"sounding points draw together: the middle one lies {_mm(here)} from the bridge, on the open string "
        f"{_mm(before)}."
    )


def readings(ranges: Ranges, one: Map) -> list[tuple[str, str]]:
    """Return two short lines a sounding point: the weight that speaks, and how far all may wander."""
    lines = []
    for point in one.points:
        if not point.speaks:
            touches = point.distance_m < 0.5 * ranges.sounding.instrument.ribbon.width_m
            why = "the hair meets the bridge" if touches else "at this speed"
            lines.append(("no clear tone", why if point.is_finished else "not finished"))
            continue
        room = "" if point.wander is None else f", {1000 * point.wander.width_m:.0f}{_THIN}mm"
        lines.append(
            (
                span_n(point.weight_min_n, point.weight_max_n, is_open=point.weight_is_open[1]),
                f"{db(point.weight_min_n, point.weight_max_n)}{room}",
            )
        )
    return lines


def measured(ranges: Ranges) -> str:
    """Return what published measurements give at the middle sounding point, beside the computed range."""
    told = []
    middle_m = points_m(ranges.sounding)[MIDDLE - 1]
    for one in ranges.maps:
        least, greatest = one.closed_form.limits_at(middle_m)
        if not math.isnan(least):
            told.append(f"{span_n(least, greatest)} at {_cm_s(one.speed_cm_s)}")
    if not told:
        return ""
    return (
        f"Measured limits, carried over to this string, give {_listed(told)} at the middle point "
        "(Schoonderwaldt, Guettler and Askenfelt 2008)."
    )


def picture(ranges: Ranges, *, reader: Reader) -> str:
    """Return the picture of the maps as the text of an SVG file."""
    from colophony.app.look.map_picture import Caption, map_picture

    sounding = ranges.sounding
    single = len(ranges.maps) == 1
    caption = Caption(
        sentence=headline(ranges, reader=reader),
        setting=setting(ranges),
        points_m=points_m(sounding),
        bowable_m=sounding.string.bowable_length_m,
        is_turned=sounding.instrument.name in ("cello", "double bass"),
        description=described(ranges),
        notes=[
            *([] if sounding.is_open else [moved(ranges)]),
            f"{LIMITS} {caution('pain', reader=reader)}",
        ],
    )
    panels = [_panel(ranges, one, single=single) for one in ranges.maps]
    return str(map_picture(panels, caption))


def described(ranges: Ranges) -> str:
    """Return the maps in words for who cannot see them: a sentence a sounding point."""
    told = []
    for one in ranges.maps:
        told.append(f"At {_cm_s(one.speed_cm_s)}:")
        for number, (first, second) in enumerate(readings(ranges, one), start=1):
            told.append(f"sounding point {number}: {first}, {second};")
    return " ".join(told).rstrip(";") + "." if told else ""


def _panel(ranges: Ranges, one: Map, *, single: bool) -> Panel:
    from colophony.app.look.map_picture import Cross, Panel

    cross = None
    if one.points and one.points[MIDDLE - 1].speaks:
        point = one.points[MIDDLE - 1]
        wander = point.wander
        cross = Cross(
            distance_m=point.beta * ranges.sounding.length_m,
            weight_n=point.weight_n,
            weights_n=(point.weight_min_n, point.weight_max_n),
            distances_m=None if wander is None else (wander.nearest_m, wander.farthest_m),
        )
    return Panel(
        one.steady,
        one.closed_form,
        title="" if single else _cm_s(one.speed_cm_s),
        cross=cross,
        readings=readings(ranges, one) if single and one.points else (),
    )


def _of_speeds(ranges: Ranges, *, reader: Reader) -> str:
    told, silent = [], []
    for one in ranges.maps:
        span = middle_weights_n(ranges, one)
        if span is None:
            silent.append(_cm_s(one.speed_cm_s))
        elif reader == "teacher":
            told.append(f"{span_n(*span)} at {_cm_s(one.speed_cm_s)}")
        else:
            light, heavy = (wording.hand_weight(weight) for weight in span)
            told.append(f"{light if light == heavy else f'{light} to {heavy}'} at {_cm_s(one.speed_cm_s)}")
    where = "At the middle sounding point" if reader == "teacher" else "In the middle of the bowing room"
    if not told:
        return f"{where} the string has no clear tone at any of these speeds."
    rest = f"; no clear tone at {_listed(silent)}" if silent else ""
    return f"{where} the string bears {_listed(told)}{rest}."


def _no_middle(one: Map, speed: str, *, reader: Reader) -> str:
    computed = one.steady.ranges
    start = f"At {speed} the middle sounding point has no clear tone under any weight that was tried"
    if not computed.is_finished:
        whole = computed.played_distance_m[np.all(one.steady.state >= 0, axis=1)]
        known = f": only up to {_mm(float(whole.max()))} from the bridge" if len(whole) else ""
        return f"Stopped before the middle sounding point was known{known}."
    if np.all(np.isnan(computed.range_db)):
        return f"At {speed} the string has no clear tone anywhere: try another speed."
    best = int(np.nanargmax(computed.range_db))
    place = _mm(float(computed.played_distance_m[best]))
    if reader == "child":
        return f"In the middle the string does not like this speed. Try {place} from the bridge."
    return f"{start}; the most room lies {place} from the bridge."


def span_n(least: float, greatest: float, *, is_open: bool = False) -> str:
    """Return a span of weight in N: ``0.17 to 1.3 N``; "or more" where nothing heavier was tried."""
    return f"{figure(least)} to {figure(greatest)}{_THIN}N{' or more' if is_open else ''}"


def db(least: float, greatest: float) -> str:
    """Return a span of weight in dB: ``18 dB``."""
    return f"{20 * math.log10(greatest / least):.0f}{_THIN}dB"


def _times(ratio: float) -> str:
    return f"the heaviest is {ratio:.2g}{_THIN}times the lightest"


def _mm(distance_m: float) -> str:
    return f"{1000 * distance_m:.0f}{_THIN}mm"


def _cm_s(speed: float) -> str:
    return f"{figure(speed)}{_THIN}cm/s"


def figure(value: float) -> str:
    """Return a number with two figures, without powers of ten."""
    if not math.isfinite(value) or value <= 0:
        return UNKNOWN
    digits = 1 - math.floor(math.log10(value))
    text = f"{round(value, digits):.{max(0, digits)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
