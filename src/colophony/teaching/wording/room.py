"""How much room a stroke has, in words: weight as a hand knows it, place in millimetres from the bridge."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.teaching.findings import Reader
from colophony.teaching.room import Change, Room, Rooms, Span, Wander
from colophony.teaching.wording.cures import hand_weight

#: Nearer to a limit than this, a stroke is told how to get more room; twice the weight or half. A choice.
NARROW_DB = 6.0

#: One little change as the beginning of a sentence for adults, and for teachers.
_LITTLE: Mapping[Change, tuple[str, str]] = MappingProxyType(
    {
        ("weight", "less"): ("A little less weight", "a quarter less weight"),
        ("weight", "more"): ("A little more weight", "a third more weight"),
        ("speed", "less"): ("A slower bow", "a quarter less speed"),
        ("speed", "more"): ("A faster bow", "a third more speed"),
        ("distance", "nearer"): ("A place a little nearer to the bridge", "one sounding point nearer"),
        ("distance", "farther"): ("A place a little farther from the bridge", "one sounding point farther"),
    }
)


def room_words(rooms: Rooms, *, weight_n: float, reader: Reader) -> str:
    """Return how much room a stroke has that speaks, and which one change makes most of it.

    Parameters
    ----------
    weight_n : of the bow on the string, N
    reader : a child is told no figures; the words for an adult do
    """
    return " ".join(
        part
        for part in (
            bears(rooms.here, reader=reader),
            wanders(rooms.wander, reader=reader),
            _most_room(rooms, weight_n, reader),
            differ(rooms.here, reader=reader),
        )
        if part
    )


def bears(room: Room, *, reader: Reader) -> str:
    """Return what weight the string bears at this place and speed."""
    if room.weight_n is None:
        return "At this place and speed there is hardly room: no weight is sure to speak."
    if reader != "teacher":
        least, greatest = (hand_weight(weight) for weight in room.weight_n)
        span = (
            f"the weight of {least} to that of {greatest}" if least != greatest else f"the weight of {least}"
        )
        return f"At this place and speed the string bears about {span}."
    span = f"{newtons(room.weight_n)}, {room.range_db or 0.0:.0f} dB"
    return f"At this place and speed the string bears about {span} ({source(room)})."


def wanders(wander: Wander | None, *, reader: Reader) -> str:
    """Return from where to where the bow may wander; nothing where that is not known."""
    if wander is None:
        return ""
    if reader != "teacher":
        return f"With this weight the tone holds {lane(wander)}."
    return f"At {wander.weight_n:.2g} N the bow may wander {lane(wander)}."


def lane(wander: Wander) -> str:
    """Return the lane in which the tone holds: "from about 14 to 38 mm from the bridge"."""
    nearest, farthest = 1000.0 * wander.nearest_m, 1000.0 * wander.farthest_m
    if wander.farthest_is_open:
        return f"from about {nearest:.0f} mm from the bridge to the fingerboard"
    return f"from about {nearest:.0f} to {farthest:.0f} mm from the bridge"


def differ(room: Room, *, reader: Reader) -> str:
    """Return that computed and published limits differ, and which counts; nothing where they agree."""
    if not room.differs:
        return ""
    if room.computed_n is None:
        if reader != "teacher":
            return "Computed, no weight is sure here; that range is as measured on another string."
        return "Computed, there is no clean range here: these are the published limits, take them with care."
    if room.published_n is None:
        if reader != "teacher":
            return "By measurements on another string there would hardly be room here."
        return "The published limits leave no range here."
    if reader != "teacher":
        if room.weight_n == room.computed_n:
            return "Measurements on another string gave another range; this one was computed for this string."
        return "Measurements on another string gave another range; this is the narrower."
    published = (
        f"({newtons(room.published_n)}, measured on one string, the lower end within a factor of three)"
    )
    if room.weight_n == room.computed_n:
        return f"The published limits {published} differ; the computed range counts."
    return f"Computed ({newtons(room.computed_n)}) and published {published} differ; the narrower counts."


def source(room: Room) -> str:
    """Return where a range comes from, for a teacher."""
    if room.computed_n is not None:
        return "computed for this string"
    return "as measured on one string; the lower end within a factor of three"


def newtons(span: Span) -> str:
    """Return a span of weight: "0.19 to 1.5 N"."""
    return f"{span[0]:.2g} to {span[1]:.2g} N"


def little(change: Change) -> str:
    """Return one little change in the words of a teacher."""
    return _LITTLE[change][1]


def _most_room(rooms: Rooms, weight_n: float, reader: Reader) -> str:
    """Return which change makes most room, where there is little."""
    found = rooms.most_room(weight_n)
    before = rooms.here.margin_db(weight_n)
    if found is None or before is None or before >= NARROW_DB:
        return ""
    change, after = found
    if reader != "teacher":
        return f"{_LITTLE[change][0]} would make most room."
    words = little(change)
    now = f"now {before:.0f}" if before >= 0.0 else f"now {-before:.0f} dB beyond it"
    return f"{words[0].upper()}{words[1:]} makes most room: {after:.0f} dB to the nearer limit, {now}."
