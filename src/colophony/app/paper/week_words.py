"""The fixed words of the week's sheet, for three readers."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import N_
from colophony.teaching.findings import Say

LABELS: Mapping[str, Say] = MappingProxyType(
    {
        "title": Say("Your week with the bow", "The week's sheet", "The week's sheet"),
        "keep": Say("Keep", "Keep", "Keep"),
        "change": Say("This week", "This week", "This week"),
        "listen": Say("Listen", "Listen for", "Listen for"),
        "why": Say("Why", "Why", "Why"),
        "days": Say("Tick when you have played it", "The days", "The days"),
        "name": Say("Name", "Name", "Name"),
        "next": Say("Next lesson", "Next lesson", "Next lesson"),
        "notes": Say("Draw or write here", "What was heard at home", "Remarks"),
        "care": Say("Take care", "Take care", "Cautions"),
        "how": Say(
            "A grown-up listens with you. Sit down and rest when it is time.",
            "Play the exercises in their order and stop while it still goes well. Whoever listens fills in a "
            "ring for each exercise that went as described.",
            "In this order; a ring for each that met its rule. Break off on a bad day.",
        ),
        "strip": Say(
            "The lanes are those on your paper strip.",
            "Sounding points (lanes) are counted from the bridge: 1 is at the bridge, 5 at the end of the "
            "fingerboard. The strip to cut out shows them true to scale.",
            "Sounding points count from the bridge; the strip has them true to scale for this size.",
        ),
        "picture": Say(
            "Thick line: your bow. Shade: so far it may wander.",
            "In the drawings the thick line is the bow's place, the shade how far it may wander; below, the "
            "part of the bow with its beats, the frog to the right.",
            "Thick: place of the bow; shade: wander room at this weight; below: hair used, with beats.",
        ),
        "invented": Say(
            "",
            "A first week, made from the instrument alone: nobody has been heard yet.",
            "Opening week from the instrument's maps alone; no takes yet.",
        ),
    }
)

ROLES: Mapping[str, Say] = MappingProxyType(
    {
        "warm-up": Say("To warm up", "To warm up", "Warm-up"),
        "change": Say("To make better", "To change", "Change"),
        "new": Say("New", "New", "New"),
        "review": Say("Show it again", "To keep", "Review"),
        "reference": Say("Your best sound", "Your own sound", "Reference"),
    }
)

#: Over what a target asks.
BOW, PLACE, WEIGHT, HAIR = N_("Bow"), N_("Place"), N_("Weight"), N_("Hair")
SPEED = N_("Speed")
WEEKDAYS = (N_("Mon"), N_("Tue"), N_("Wed"), N_("Thu"), N_("Fri"), N_("Sat"), N_("Sun"))
