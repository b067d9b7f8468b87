"""The take in one sentence, and how to check at home that the one thing is getting better."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from colophony.teaching.findings import Say


@dataclass(frozen=True, slots=True)
class Counts:
    """Strokes of a take: bowed and judged, of these good and with each fault; bowed but not judged; plucked.

    ``faults`` holds fault and number of strokes, the one that took most time first. ``word`` is what may be
    said of the good ones: "clear" where one slip a period is known, else "steady", which promises less.
    """

    judged: int
    good: int
    unjudged: int
    plucked: int
    faults: tuple[tuple[str, int], ...]
    word: Literal["clear", "steady"] = "steady"


#: What a stroke with a fault did, as the middle of a sentence: for a child, an adult, a teacher.
_DID: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "pressed": ("growled", "sounded pressed", "pressed"),
        "groaning": ("groaned", "groaned below the note", "groaned below the note"),
        "surface": ("skated", "stayed on the surface", "with surface sound"),
        "no-tone": ("only hissed", "brought hair noise but no tone", "with hair noise and no tone"),
        "creaking-start": ("began with a creak", "began with a creak", "with a creaking start"),
        "slipping-start": ("began with a whistle", "began with a light whistle", "with a slipping start"),
        "brighter": (
            "sounded harsh",
            "sounded brighter than the accepted tone",
            "brighter than the reference",
        ),
        "duller": ("sounded dull", "sounded duller than the accepted tone", "duller than the reference"),
    }
)

_CHECKS: Mapping[str | None, Say] = MappingProxyType(
    {
        None: Say(
            "Play it again tomorrow. Does it sound the same?",
            "Play the same again on another day and record it: it should sound as steady as this.",
            "Record the same again next week; hold this as the measure.",
        ),
        "pressed": Say(
            "Play four slow bows. Count how many do not growl.",
            "Play four slow bows on the same note and count those without a scrape from end to end. All "
            "four, three days running, and it is done.",
            "Four slow bows on the same note, none with a scrape, three days running. Record one set.",
        ),
        "groaning": Say(
            "Play four slow bows. Count those that sing their note.",
            "Play four slow bows and sing the note first: count the bows that hold that note and never "
            "drop below it.",
            "Four slow bows, the note sung first; none may drop below it, three days running.",
        ),
        "surface": Say(
            "Play four slow bows. Count those that ring to the end.",
            "Play four slow bows on the same note and watch the bow's place. Count those that ring full from "
            "end to end. All four, three days running, and it is done.",
            "Four slow bows in one lane, full from end to end, three days running. Record one set.",
        ),
        "no-tone": Say(
            "Play four slow bows. Count those that sing, not hiss.",
            "Play four slow bows and count those in which the note is louder than the hiss of the hair.",
            "Four slow bows with the note above the hair's noise from end to end, three days running.",
        ),
        "creaking-start": Say(
            "Start one note eight times. Count the starts without a creak.",
            "Start the same note eight times from the string and count the starts without a creak. Seven of "
            "eight, three days running, and it is done.",
            "Eight starts from the string, seven without a creak, three days running. Record one set.",
        ),
        "slipping-start": Say(
            "Start one note eight times. Count the starts without a whistle.",
            "Start the same note eight times from the string and count those that speak at once. Seven of "
            "eight, three days running, and it is done.",
            "Eight starts from the string, seven speaking at once, three days running. Record one set.",
        ),
        "brighter": Say(
            "Listen to your good sound first. Then play. Same or different?",
            "Listen to the recording of your own good tone, play, record, and compare: same colour or not?",
            "Compare with the reference take, same note, same room, same place of the microphone.",
        ),
        "duller": Say(
            "Listen to your good sound first. Then play. Same or different?",
            "Listen to the recording of your own good tone, play, record, and compare: same colour or not?",
            "Compare with the reference take, same note, same room, same place of the microphone.",
        ),
    }
)


#: Where nothing could be judged there is nothing to compare with yet.
_RECORD_AGAIN = Say(
    "Play long, slow notes. Put the phone two big steps away.",
    "Record again: long notes, one string at a time, in a quiet room, the phone two or three steps away.",
    "Record again: long notes, one string at a time, a quiet room, the microphone two or three steps away.",
)


def check_at_home(fault: str | None, *, judged: bool = True) -> Say:
    """Return how to check the work on a fault at home, or how to keep a good tone when it is None.

    Where no stroke was ``judged`` the check is to record again.
    """
    return _CHECKS[fault] if judged else _RECORD_AGAIN


def headline(counts: Counts) -> Say:
    """Return one sentence on what was heard."""
    if counts.judged == 0:
        return _nothing_judged(counts)
    if counts.good == counts.judged:
        return _all_good(counts)
    fault, number = counts.faults[0]
    child, adult, teacher = _DID[fault]
    if counts.judged == 1:
        return Say(
            f"Your bow stroke {child}.",
            f"The bow stroke {adult}{_unjudged(counts)}.",
            f"One bow stroke, {teacher}{_unjudged(counts)}.",
        )
    if counts.good == 0 and len(counts.faults) == 1:
        if counts.unjudged:
            every = _number(number).capitalize()
        else:
            every = "Both" if number == 2 else f"All {_number(number)}"
        return Say(
            f"{every} bows {child}.",
            f"{every} bow strokes {adult}{_unjudged(counts)}.",
            f"{every} bow strokes {teacher}{_unjudged(counts)}.",
        )
    good = f"{_number(counts.good).capitalize()} of {_number(counts.judged)}"
    return Say(
        f"{good} bows held {counts.word}. {_number(number).capitalize()} {child}.",
        f"{good} bow strokes sounded {counts.word} throughout; {_listed(counts, 1)}{_unjudged(counts)}.",
        f"{good} bow strokes {counts.word} throughout; {_listed(counts, 2)}{_unjudged(counts)}.",
    )


def _listed(counts: Counts, reader: int) -> str:
    """Return the two faults that took most time in the words of a reader, and how many strokes had others."""
    told = [f"{_number(number)} {_DID[fault][reader]}" for fault, number in counts.faults[:2]]
    others = sum(number for _, number in counts.faults[2:])
    return ", ".join(told) + (f", and {_number(others)} had another fault" if others else "")


def _all_good(counts: Counts) -> Say:
    if counts.judged == 1:
        return Say(
            f"Your bow stroke sounded {counts.word}.",
            f"The bow stroke sounded {counts.word} throughout{_unjudged(counts)}.",
            f"One bow stroke, {counts.word} throughout, no fault heard{_unjudged(counts)}.",
        )
    every = "Both" if counts.judged == 2 else f"All {_number(counts.judged)}"
    return Say(
        f"{every} bow strokes sounded {counts.word}.",
        f"{every} bow strokes sounded {counts.word} throughout{_unjudged(counts)}.",
        f"{every} bow strokes {counts.word} throughout, no fault heard{_unjudged(counts)}.",
    )


def _nothing_judged(counts: Counts) -> Say:
    if counts.plucked and not counts.unjudged:
        return Say(
            "Only plucked notes were heard.",
            "Only plucked notes were heard; there was no bow to judge.",
            "Plucked notes only; nothing bowed.",
        )
    if counts.unjudged:
        return Say(
            "This take was hard to hear.",
            "The tone could not be judged from this recording.",
            "No stroke could be judged from this take.",
        )
    return Say(
        "No note was heard.",
        "No note of a bowed string was heard.",
        "No stroke found.",
    )


def _unjudged(counts: Counts) -> str:
    if not counts.unjudged:
        return ""
    return f"; {_number(counts.unjudged)} could not be judged"


_WORDS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def _number(count: int) -> str:
    return _WORDS[count] if count < len(_WORDS) else str(count)
