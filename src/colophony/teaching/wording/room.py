"""How much room a stroke has, in words: weight as a hand knows it, place in millimetres from the bridge."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import N_, _, figures
from colophony.teaching.findings import Reader
from colophony.teaching.room import Change, Room, Rooms, Span, Wander
from colophony.teaching.wording.comparisons import hand_weight

#: Nearer to a limit than this, a stroke is told how to get more room; twice the weight or half. A choice.
NARROW_DB = 6.0

#: What one little change does, for adults, and for teachers with the fields ``{after}`` and ``{now}``.
_MAKES_ROOM: Mapping[Change, tuple[str, str]] = MappingProxyType(
    {
        ("weight", "less"): (
            N_("A little less weight would make most room."),
            N_("A quarter less weight makes most room: {after} dB to the nearer limit, {now}."),
        ),
        ("weight", "more"): (
            N_("A little more weight would make most room."),
            N_("A third more weight makes most room: {after} dB to the nearer limit, {now}."),
        ),
        ("speed", "less"): (
            N_("A slower bow would make most room."),
            N_("A quarter less speed makes most room: {after} dB to the nearer limit, {now}."),
        ),
        ("speed", "more"): (
            N_("A faster bow would make most room."),
            N_("A third more speed makes most room: {after} dB to the nearer limit, {now}."),
        ),
        ("distance", "nearer"): (
            N_("A place a little nearer to the bridge would make most room."),
            N_("One sounding point nearer makes most room: {after} dB to the nearer limit, {now}."),
        ),
        ("distance", "farther"): (
            N_("A place a little farther from the bridge would make most room."),
            N_("One sounding point farther makes most room: {after} dB to the nearer limit, {now}."),
        ),
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
        return _("At this place and speed there is hardly room: no weight is sure to speak.")
    if reader == "teacher":
        return _("At this place and speed the string bears about {span}, {decibels} dB ({source}).").format(
            span=newtons(room.weight_n), decibels=f"{room.range_db or 0.0:.0f}", source=source(room)
        )
    least, greatest = (hand_weight(weight) for weight in room.weight_n)
    if least == greatest:
        return _("At this place and speed the string bears about the weight of {thing}.").format(thing=least)
    return _(
        "At this place and speed the string bears about the weight of {least} to that of {greatest}."
    ).format(least=least, greatest=greatest)


def wanders(wander: Wander | None, *, reader: Reader) -> str:
    """Return from where to where the bow may wander; nothing where that is not known."""
    if wander is None:
        return ""
    if reader != "teacher":
        return _("With this weight the tone holds {lane}.").format(lane=lane(wander))
    return _("At {weight} N the bow may wander {lane}.").format(
        weight=figures(f"{wander.weight_n:.2g}"), lane=lane(wander)
    )


def lane(wander: Wander) -> str:
    """Return the lane in which the tone holds: "from about 14 to 38 mm from the bridge"."""
    nearest, farthest = f"{1000.0 * wander.nearest_m:.0f}", f"{1000.0 * wander.farthest_m:.0f}"
    if wander.farthest_is_open:
        return _("from about {nearest} mm from the bridge to the fingerboard").format(nearest=nearest)
    return _("from about {nearest} to {farthest} mm from the bridge").format(
        nearest=nearest, farthest=farthest
    )


def differ(room: Room, *, reader: Reader) -> str:
    """Return that computed and published limits differ, and which counts; nothing where they agree."""
    if not room.differs:
        return ""
    return _differ_to_teacher(room) if reader == "teacher" else _differ_to_adult(room)


def _differ_to_adult(room: Room) -> str:
    if room.computed_n is None:
        return _("Computed, no weight is sure here; that range is as measured on another string.")
    if room.published_n is None:
        return _("By measurements on another string there would hardly be room here.")
    if room.weight_n == room.computed_n:
        return _("Measurements on another string gave another range; this one was computed for this string.")
    return _("Measurements on another string gave another range; this is the narrower.")


def _differ_to_teacher(room: Room) -> str:
    if room.computed_n is None:
        return _(
            "Computed, there is no clean range here: these are the published limits, take them with care."
        )
    if room.published_n is None:
        return _("The published limits leave no range here.")
    published = newtons(room.published_n)
    if room.weight_n == room.computed_n:
        return _(
            "The published limits ({published}, measured on one string, the lower end within a factor of "
            "three) differ; the computed range counts."
        ).format(published=published)
    return _(
        "Computed ({computed}) and published ({published}, measured on one string, the lower end within a "
        "factor of three) differ; the narrower counts."
    ).format(computed=newtons(room.computed_n), published=published)


def source(room: Room) -> str:
    """Return where a range comes from, for a teacher."""
    if room.computed_n is not None:
        return _("computed for this string")
    return _("as measured on one string; the lower end within a factor of three")


def newtons(span: Span) -> str:
    """Return a span of weight: "0.19 to 1.5 N"."""
    return _("{least} to {greatest} N").format(
        least=figures(f"{span[0]:.2g}"), greatest=figures(f"{span[1]:.2g}")
    )


def _most_room(rooms: Rooms, weight_n: float, reader: Reader) -> str:
    """Return which change makes most room, where there is little."""
    found = rooms.most_room(weight_n)
    before = rooms.here.margin_db(weight_n)
    if found is None or before is None or before >= NARROW_DB:
        return ""
    change, after = found
    to_adult, to_teacher = _MAKES_ROOM[change]
    if reader != "teacher":
        return _(to_adult)
    now = _("now {decibels}") if before >= 0.0 else _("now {decibels} dB beyond it")
    return _(to_teacher).format(after=f"{after:.0f}", now=now.format(decibels=f"{abs(before):.0f}"))
