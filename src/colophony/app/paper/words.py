"""The fixed words of a sheet, for three readers."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.teaching.findings import Say

LABELS: Mapping[str, Say] = MappingProxyType(
    {
        "title": Say("Your bow this week", "This week's bow", "This week's bow"),
        "heard": Say("What we heard", "What was heard", "What was heard"),
        "work": Say("One thing to try", "One thing to work on", "One thing to work on"),
        "next_step": Say("What next", "What next", "What next"),
        "check": Say("How to check it", "How to check it at home", "How to check it"),
        "record": Say("How to record", "How to record", "How to record"),
        "days": Say("Five days", "Five days of practice", "Five days of practice"),
        "care": Say("Take care", "Take care", "Cautions"),
        "recording": Say("About the recording", "About the recording", "About the recording"),
        "name": Say("Name", "Name", "Name"),
        "next": Say("Next lesson", "Next lesson", "Next lesson"),
        "why": Say("Why", "Why", "Why"),
        "keep": Say(
            "Keep it just like this.",
            "Nothing to change was heard: keep this sound, and get to know how it feels.",
            "Nothing to change in this take.",
        ),
        "again": Say(
            "Let us listen once more.",
            "Nothing to work on yet: the recording did not tell enough.",
            "No advice: the take did not tell enough.",
        ),
    }
)

#: What to do on each of the five days, by kind of fault, and how many marks to fill in.
DAYS: Mapping[str, tuple[Say, int]] = MappingProxyType(
    {
        "tone": (
            Say(
                "Four slow bows a day. Fill a circle for each one that worked.",
                "Four slow bows a day: fill a circle for each one that passed the check.",
                "Four slow bows a day, a circle filled for each that passes.",
            ),
            4,
        ),
        "start": (
            Say(
                "Eight starts a day. Fill a circle for each one that worked.",
                "Eight starts a day: fill a circle for each one that passed the check.",
                "Eight starts a day, a circle filled for each that passes.",
            ),
            8,
        ),
        "colour": (
            Say(
                "Two tries a day. Fill a circle when it sounds the same.",
                "Two tries a day: fill a circle when the colour is that of the accepted tone.",
                "Two tries a day, a circle filled when the colour matches the reference.",
            ),
            2,
        ),
        "again": (
            Say(
                "One long, slow note a day. Then fill the circle.",
                "A few long, slow notes a day: fill the circle when they are played.",
                "A few long, slow notes a day, the circle filled when played.",
            ),
            1,
        ),
        "keep": (
            Say(
                "Play it once a day. Fill the circle when it sounds the same.",
                "Play it once a day: fill the circle when it sounds as it did.",
                "Once a day, the circle filled when it holds.",
            ),
            1,
        ),
    }
)

#: Where the sheet cannot print a name or shows only part of a take.
NAME_BY_HAND = Say(
    "Please write the name here.",
    "The name is in a script that no typeface here can print: please write it by hand.",
    "Name not printable with the typefaces at hand; write it in.",
)
PART_SHOWN = Say(
    "This is a part of it.",
    "The picture shows the part from {start} to {end}.",
    "Picture: the part from {start} to {end}.",
)
