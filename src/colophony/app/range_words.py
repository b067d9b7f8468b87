"""What the maps of a string say, in words: command line and picture tell the same."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from colophony.app.look.figures import UNKNOWN, note, percent
from colophony.app.phrases import from_to, hair_words, listed, sentences
from colophony.app.ranges import Map, Ranges, narrow_from_m, points_m
from colophony.language import N_, _, figures
from colophony.teaching import wording
from colophony.teaching.cautions import caution
from colophony.teaching.findings import Reader
from colophony.teaching.sounding_points import MIDDLE

if TYPE_CHECKING:
    from colophony.app.look.map_picture import Panel

_HELD = "\u00a0"

#: How the table of sounding points is read.
HOW_TO_READ = N_(
    "Each point is one stroke in the middle of its range: weight, place or speed alone may wander so far."
)
STOPPED_EARLY = N_("Stopped early: what is finished is shown.")
#: What is not to be forgotten before the figures are believed.
LIMITS = N_(
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
        room = _("At {speed} the middle sounding point bears {weights}: {range}.").format(
            speed=speed, weights=span_n(least, greatest, is_open=is_open), range=db(least, greatest)
        )
        if narrow_m is None:
            place_m, span_db = _nearest(one)
            line = _("Towards the bridge it narrows to {range} at {place}.")
            return sentences((room, line.format(range=f"{span_db:.0f}{_HELD}dB", place=_mm(place_m))))
        line = _("Towards the bridge the range closes: less than {range} nearer than {place}.")
        return sentences((room, line.format(range=f"6{_HELD}dB", place=_mm(narrow_m))))
    if reader == "child" and light == heavy:
        return _("In the middle, the string sings under about the weight of {weight}.").format(weight=light)
    if reader == "child":
        room = _(
            "In the middle, the bow may be as light as {light} or as heavy as {heavy}: the string sings."
        ).format(light=light, heavy=heavy)
        choosy = "" if narrow_m is None else _("Near the bridge it is much more choosy.")
        return sentences((room, choosy))
    line = (
        _(
            "At {speed}, midway between bridge and fingerboard, the string sings with about the weight of "
            "{light}, give or take: the heaviest is {ratio} times the lightest."
        )
        if light == heavy
        else _(
            "At {speed}, midway between bridge and fingerboard, the string sings with about the weight of "
            "{light} and still with that of {heavy}: the heaviest is {ratio} times the lightest."
        )
    )
    room = line.format(speed=speed, light=light, heavy=heavy, ratio=_ratio(greatest / least))
    if narrow_m is None:
        place_m, span_db = _nearest(one)
        line = _("At {place} from the bridge it is only {ratio} times.")
        return sentences((room, line.format(place=_mm(place_m), ratio=_ratio(10 ** (span_db / 20)))))
    line = _("Nearer than {place} to the bridge hardly any room is left.")
    return sentences((room, line.format(place=_mm(narrow_m))))


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
    speeds = listed([figure(one.speed_cm_s) for one in ranges.maps])
    told = _("{string}. {speed}, {hair}.").format(
        string=ranges.sounding.describe(), speed=f"{speeds}{_HELD}cm/s", hair=hair_words(request.tilt_deg)
    )
    return sentences((told, "" if ranges.is_finished else _(STOPPED_EARLY)))


def moved(ranges: Ranges) -> str:
    """Return how the sounding points move with a stopped note; empty on the open string."""
    sounding = ranges.sounding
    if sounding.is_open:
        return ""
    share = sounding.length_m / sounding.string.sounding_length_m
    here, before = points_m(sounding)[MIDDLE - 1], points_m(sounding, is_open=True)[MIDDLE - 1]
    return _(
        "With {note} stopped, {share} of the string sounds and the sounding points draw together: the middle "
        "one lies {here} from the bridge, on the open string {open}."
    ).format(note=note(sounding.note), share=percent(share), here=_mm(here), open=_mm(before))


def readings(ranges: Ranges, one: Map) -> list[tuple[str, str]]:
    """Return two short lines a sounding point: the weight that speaks, and how far all may wander."""
    lines = []
    for point in one.points:
        if not point.speaks:
            touches = point.distance_m < 0.5 * ranges.sounding.instrument.ribbon.width_m
            why = _("the hair meets the bridge") if touches else _("at this speed")
            lines.append((_("no clear tone"), why if point.is_finished else _("not finished")))
            continue
        room = "" if point.wander is None else f", {_mm(point.wander.width_m)}"
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
            told.append(_at(span_n(least, greatest), one))
    if not told:
        return ""
    return _(
        "Measured limits, carried over to this string, give {weights} at the middle point "
        "(Schoonderwaldt, Guettler and Askenfelt 2008)."
    ).format(weights=listed(told))


def _at(weights: str, one: Map) -> str:
    return _("{weights} at {speed}").format(weights=weights, speed=_cm_s(one.speed_cm_s))


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
            f"{_(LIMITS)} {caution('pain', reader=reader)}",
        ],
    )
    panels = [_panel(ranges, one, single=single) for one in ranges.maps]
    return str(map_picture(panels, caption))


def described(ranges: Ranges) -> str:
    """Return the maps in words for who cannot see them: a sentence a sounding point."""
    told = []
    for one in ranges.maps:
        points = [
            _("sounding point {number}: {weight}, {room}").format(number=number, weight=first, room=second)
            for number, (first, second) in enumerate(readings(ranges, one), start=1)
        ]
        line = _("At {speed}: {points}.")
        told.append(line.format(speed=_cm_s(one.speed_cm_s), points="; ".join(points)))
    return sentences(told)


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
            told.append(_at(span_n(*span), one))
        else:
            light, heavy = (wording.hand_weight(weight) for weight in span)
            told.append(_at(from_to(light, heavy), one))
    nothing, all_of_them, some = _TEACHERS_MIDDLE if reader == "teacher" else _MIDDLE
    line = _(nothing if not told else some if silent else all_of_them)
    return line.format(weights=listed(told), silent=listed(silent))


#: What the middle bears at several speeds: nothing, something at each, nothing at some.
_TEACHERS_MIDDLE = (
    N_("At the middle sounding point the string has no clear tone at any of these speeds."),
    N_("At the middle sounding point the string bears {weights}."),
    N_("At the middle sounding point the string bears {weights}; no clear tone at {silent}."),
)
_MIDDLE = (
    N_("In the middle of the bowing room the string has no clear tone at any of these speeds."),
    N_("In the middle of the bowing room the string bears {weights}."),
    N_("In the middle of the bowing room the string bears {weights}; no clear tone at {silent}."),
)


def _no_middle(one: Map, speed: str, *, reader: Reader) -> str:
    computed = one.steady.ranges
    if not computed.is_finished:
        whole = computed.played_distance_m[np.all(one.steady.state >= 0, axis=1)]
        if not len(whole):
            return _("Stopped before the middle sounding point was known.")
        line = _("Stopped before the middle sounding point was known: only up to {place} from the bridge.")
        return line.format(place=_mm(float(whole.max())))
    if np.all(np.isnan(computed.range_db)):
        return _("At {speed} the string has no clear tone anywhere: try another speed.").format(speed=speed)
    best = int(np.nanargmax(computed.range_db))
    place = _mm(float(computed.played_distance_m[best]))
    if reader == "child":
        line = _("In the middle the string does not like this speed. Try {place} from the bridge.")
        return line.format(place=place)
    return _(
        "At {speed} the middle sounding point has no clear tone under any weight that was tried; the most "
        "room lies {place} from the bridge."
    ).format(speed=speed, place=place)


def span_n(least: float, greatest: float, *, is_open: bool = False) -> str:
    """Return a span of weight in N: ``0.17 to 1.3 N``; "or more" where nothing heavier was tried."""
    span = f"{from_to(figure(least), figure(greatest))}{_HELD}N"
    return _("{weight} or more").format(weight=span) if is_open else span


def db(least: float, greatest: float) -> str:
    """Return a span of weight in dB: ``18 dB``."""
    return f"{20 * math.log10(greatest / least):.0f}{_HELD}dB"


def _ratio(ratio: float) -> str:
    return figures(f"{ratio:.2g}")


def _mm(distance_m: float) -> str:
    return f"{1000 * distance_m:.0f}{_HELD}mm"


def _cm_s(speed: float) -> str:
    return f"{figure(speed)}{_HELD}cm/s"


def figure(value: float) -> str:
    """Return a number with two figures, without powers of ten."""
    if not math.isfinite(value) or value <= 0:
        return UNKNOWN
    digits = 1 - math.floor(math.log10(value))
    text = f"{round(value, digits):.{max(0, digits)}f}"
    return figures(text.rstrip("0").rstrip(".") if "." in text else text)
