"""The take in one sentence, and how to check at home that the one thing is getting better."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from colophony.language import N_, _, ngettext
from colophony.teaching.findings import Reader, Say, said


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


def _did(fault: str, reader: Reader, strokes: int) -> str:
    """Return what strokes with a fault did, as the middle of a sentence.

    For child and adult it is a verb, which another language may put in the plural; for a teacher it is not.
    """
    if reader == "teacher":
        return _(_TO_TEACHER[fault])
    to_child, to_adult = {
        "pressed": (
            ngettext("growled", "growled", strokes),
            ngettext("sounded pressed", "sounded pressed", strokes),
        ),
        "groaning": (
            ngettext("groaned", "groaned", strokes),
            ngettext("groaned below the note", "groaned below the note", strokes),
        ),
        "surface": (
            ngettext("skated", "skated", strokes),
            ngettext("stayed on the surface", "stayed on the surface", strokes),
        ),
        "no-tone": (
            ngettext("only hissed", "only hissed", strokes),
            ngettext("brought hair noise but no tone", "brought hair noise but no tone", strokes),
        ),
        "creaking-start": (
            ngettext("began with a creak", "began with a creak", strokes),
            ngettext("began with a creak", "began with a creak", strokes),
        ),
        "slipping-start": (
            ngettext("began with a whistle", "began with a whistle", strokes),
            ngettext("began with a light whistle", "began with a light whistle", strokes),
        ),
        "brighter": (
            ngettext("sounded harsh", "sounded harsh", strokes),
            ngettext(
                "sounded brighter than the accepted tone", "sounded brighter than the accepted tone", strokes
            ),
        ),
        "duller": (
            ngettext("sounded dull", "sounded dull", strokes),
            ngettext(
                "sounded duller than the accepted tone", "sounded duller than the accepted tone", strokes
            ),
        ),
    }[fault]
    return to_child if reader == "child" else to_adult


_TO_TEACHER: Mapping[str, str] = MappingProxyType(
    {
        "pressed": N_("pressed"),
        "groaning": N_("with a groan below the note"),
        "surface": N_("with surface sound"),
        "no-tone": N_("with hair noise and no tone"),
        "creaking-start": N_("with a creaking start"),
        "slipping-start": N_("with a slipping start"),
        "brighter": N_("brighter than the reference"),
        "duller": N_("duller than the reference"),
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


#: Headlines: ``{did}`` is what faulty strokes did, ``{unjudged}`` tells how many could not be judged.
_ONE_FAULTY = Say(
    "Your bow stroke {did}.",
    "The bow stroke {did}{unjudged}.",
    "One bow stroke, {did}{unjudged}.",
)
_EVERY_FAULTY = Say(
    "{every} bows {did}.",
    "{every} bow strokes {did}{unjudged}.",
    "{every} bow strokes {did}{unjudged}.",
)
_SOME_FAULTY = Say(
    "{good} of {judged} bows held {word}. {faulty} {did}.",
    "{good} of {judged} bow strokes sounded {word} throughout; {faults}{unjudged}.",
    "{good} of {judged} bow strokes {word} throughout; {faults}{unjudged}.",
)
_ONE_GOOD = Say(
    "Your bow stroke sounded {word}.",
    "The bow stroke sounded {word} throughout{unjudged}.",
    "One bow stroke, {word} throughout, no fault heard{unjudged}.",
)
_EVERY_GOOD = Say(
    "{every} bow strokes sounded {word}.",
    "{every} bow strokes sounded {word} throughout{unjudged}.",
    "{every} bow strokes {word} throughout, no fault heard{unjudged}.",
)
_ONLY_PLUCKED = Say(
    "Only plucked notes were heard.",
    "Only plucked notes were heard; there was no bow to judge.",
    "Plucked notes only; nothing bowed.",
)
_HARD_TO_HEAR = Say(
    "This take was hard to hear.",
    "The tone could not be judged from this recording.",
    "No stroke could be judged from this take.",
)
_NOTHING_HEARD = Say(
    "No note was heard.",
    "No note of a bowed string was heard.",
    "No stroke found.",
)


def headline(counts: Counts) -> Say:
    """Return one sentence on what was heard."""
    if counts.judged == 0:
        if counts.unjudged:
            return _HARD_TO_HEAR
        return _ONLY_PLUCKED if counts.plucked else _NOTHING_HEARD
    if counts.good == counts.judged:
        words = _ONE_GOOD if counts.judged == 1 else _EVERY_GOOD
    elif counts.judged == 1:
        words = _ONE_FAULTY
    elif counts.good == 0 and len(counts.faults) == 1:
        words = _EVERY_FAULTY
    else:
        words = _SOME_FAULTY
    return said(lambda reader: words.to(reader).format(**_fields(counts, reader)))


def _fields(counts: Counts, reader: Reader) -> dict[str, str]:
    """Return what fills a headline, in the language of the moment."""
    fields = {
        "every": _every(counts),
        "good": _number(counts.good).capitalize(),
        "judged": _number(counts.judged),
        "word": _(_WORD[counts.word]),
        "unjudged": "",
    }
    if counts.faults:
        fault, strokes = counts.faults[0]
        fields["did"] = _did(fault, reader, strokes)
        fields["faulty"] = _number(strokes).capitalize()
        fields["faults"] = _listed(counts, reader)
    if counts.unjudged:
        fields["unjudged"] = ngettext(
            "; {number} could not be judged", "; {number} could not be judged", counts.unjudged
        ).format(number=_number(counts.unjudged))
    return fields


def _every(counts: Counts) -> str:
    """Return "Both" or "All three"; the number alone where others, not judged, may have been good."""
    if counts.unjudged and counts.good == 0:
        return _number(counts.judged).capitalize()
    return _("Both") if counts.judged == 2 else _("All {number}").format(number=_number(counts.judged))


def _listed(counts: Counts, reader: Reader) -> str:
    """Return the two faults that took most time in the words of a reader, and how many strokes had others."""
    told = [
        _("{number} {did}").format(number=_number(strokes), did=_did(fault, reader, strokes))
        for fault, strokes in counts.faults[:2]
    ]
    others = sum(strokes for _fault, strokes in counts.faults[2:])
    if not others:
        return ", ".join(told)
    return ngettext(
        "{faults}, and {number} had another fault", "{faults}, and {number} had another fault", others
    ).format(faults=", ".join(told), number=_number(others))


_WORD: Mapping[str, str] = MappingProxyType({"clear": N_("clear"), "steady": N_("steady")})

#: Numbers of bow strokes in words.
_NUMBERS = (
    N_("none"),
    N_("one"),
    N_("two"),
    N_("three"),
    N_("four"),
    N_("five"),
    N_("six"),
    N_("seven"),
    N_("eight"),
    N_("nine"),
    N_("ten"),
)


def _number(count: int) -> str:
    return _(_NUMBERS[count]) if count < len(_NUMBERS) else str(count)
