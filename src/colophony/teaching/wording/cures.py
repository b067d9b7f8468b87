"""What to change, in words: one sentence for every cure of every fault, and the tests that part causes.

The fields ``{lane}``, ``{place}``, ``{hand}`` and ``{holds}`` carry figures (`Figures`) when instrument and
note are known and are empty otherwise. "A little" is the same everywhere: a bow in three counts where it took
four (or the reverse), a quarter of the weight less or a third more, one sounding point. The first two are
2.5 dB either way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from colophony.language import N_, _
from colophony.teaching.findings import Say, Turn, Variable, said
from colophony.teaching.room import Change, Wander
from colophony.teaching.wording.comparisons import hand_weight
from colophony.teaching.wording.room import lane

CURES: Mapping[tuple[str, Variable, Turn], Say] = MappingProxyType(
    {
        ("pressed", "weight", "less"): Say(
            "Let the bow rest lighter on the string.",
            "Take about a quarter of the weight off the bow{hand}.",
            "Less weight, about a quarter{hand}: the arm carries more of the bow.",
        ),
        ("pressed", "speed", "more"): Say(
            "Use more bow in the same time.",
            "Use more bow: in three counts what took four.",
            "More speed, about a third: the same bow in three counts instead of four.",
        ),
        ("pressed", "distance", "nearer"): Say(
            "High notes need the bow nearer the bridge.",
            "The string is short on this note: bring the bow nearer to the bridge{place}.{holds}",
            "Nearer to the bridge: the stopped string is short and the sounding points move with it{place}."
            "{holds}",
        ),
        ("groaning", "weight", "less"): Say(
            "Much lighter: just let the bow lie on the string.",
            "Take off half of the weight or more, then add only what the tone asks for.",
            "Far less weight, half or under; add again only as the tone asks.",
        ),
        ("groaning", "speed", "more"): Say(
            "Let the bow run faster.",
            "Let the bow run: twice as much of it in the same time.",
            "More speed, about double: the string is held longer than its period.",
        ),
        ("groaning", "distance", "nearer"): Say(
            "High notes need the bow nearer the bridge.",
            "The string is short on this note: bring the bow nearer to the bridge{place}.{holds}",
            "Nearer to the bridge: the stopped string is short and the sounding points move with it{place}."
            "{holds}",
        ),
        ("surface", "distance", "farther"): Say(
            "Move the bow a little away from the bridge.",
            "Move the bow a little farther from the bridge{lane}.{holds}",
            "Farther from the bridge by one sounding point{lane}: there the string asks for less weight."
            "{holds}",
        ),
        ("surface", "weight", "more"): Say(
            "Let the bow sink a little deeper into the string.",
            "Give the bow a little more weight, about a third.",
            "More weight, about a third, from the arm and not from the thumb.",
        ),
        ("no-tone", "weight", "more"): Say(
            "Let the bow sink in until the string sings.",
            "Give the bow more weight until the string catches; look at the rosin too.",
            "More weight until the hair takes hold; look at rosin and hair first.",
        ),
        ("no-tone", "speed", "less"): Say(
            "Move the bow more slowly.",
            "Move the bow more slowly, so that the hair can catch the string.",
            "Less speed, so that the hair can take hold: four counts for the bow that took three.",
        ),
        ("creaking-start", "weight", "less"): Say(
            "Rest the bow lightly before it starts.",
            "Put less weight on the string before the bow moves; add it once the note speaks.",
            "Less weight before the bow moves; add it once the note speaks.",
        ),
        ("creaking-start", "speed", "more"): Say(
            "Let the bow set off more quickly.",
            "Let the bow set off more quickly.",
            "A quicker start: more acceleration for the same weight.",
        ),
        ("slipping-start", "weight", "more"): Say(
            "Let the bow settle on the string before it moves.",
            "Let the bow settle into the string before it moves: a little more weight at the start.",
            "More weight before the bow moves: the hair should hold the string first.",
        ),
        ("slipping-start", "speed", "less"): Say(
            "Let the bow set off more slowly.",
            "Let the bow set off more slowly.",
            "A slower start: less acceleration for the same weight.",
        ),
        ("brighter", "weight", "less"): Say(
            "Try it lighter. Is it your good sound again?",
            "Brighter than your own good tone. Try a little less weight, in case it was forced.",
            "Brighter than the reference; if forced, less weight.",
        ),
        ("brighter", "weight", "more"): Say(
            "If not, try a little more weight.",
            "If less weight makes it thinner still, the bow was on the surface: give a little more weight.",
            "If on the surface, the lowest harmonic is lost and the tone is brighter too: more weight.",
        ),
        ("brighter", "speed", "more"): Say(
            "Your bow was slow. Let it run as in your good sound.",
            "Brighter than your own good tone, with a slower bow: let it run as fast as then.",
            "Brighter than the reference, and slower: the reference's speed again.",
        ),
        ("brighter", "distance", "farther"): Say(
            "Your bow came near the bridge. Go back to your place.",
            "Brighter than your own good tone, and nearer to the bridge: go back to that place{lane}.",
            "Brighter than the reference, and nearer to the bridge: back to its place{lane}.",
        ),
        ("duller", "speed", "less"): Say(
            "Your bow was quick. Slow it down as in your good sound.",
            "Duller than your own good tone, with a faster bow: let it run as slowly as then.",
            "Duller than the reference, and faster: the reference's speed again.",
        ),
        ("duller", "weight", "more"): Say(
            "Let the bow sink a little deeper.",
            "Duller than your own good tone. Give the bow a little more weight, about a third.",
            "Duller than the reference: more weight; weight decides colour more than place or speed.",
        ),
        ("duller", "distance", "nearer"): Say(
            "Go a little nearer to the bridge.",
            "Play a little nearer to the bridge{lane}, where the string bears more weight.",
            "Nearer to the bridge by one sounding point{lane}: there the string bears more weight.",
        ),
    }
)

#: What was wrong if a change helps: a clause that follows on "if it clears".
_CAUSES: Mapping[Change, str] = MappingProxyType(
    {
        ("weight", "less"): N_("there was too much weight"),
        ("weight", "more"): N_("there was too little weight"),
        ("speed", "more"): N_("the bow was too slow"),
        ("speed", "less"): N_("the bow was too fast"),
        ("distance", "nearer"): N_("the bow was too far from the bridge"),
        ("distance", "farther"): N_("the bow was too near the bridge"),
    }
)

#: One change made alone, as a small test: to a child, and what adult and teacher do.
_TRIALS: Mapping[Change, tuple[str, str]] = MappingProxyType(
    {
        ("weight", "less"): (
            N_("Same bow, less weight: does it clear?"),
            N_("keep speed and place, take some weight off"),
        ),
        ("weight", "more"): (
            N_("Same bow, more weight: does it clear?"),
            N_("keep speed and place, give more weight"),
        ),
        ("speed", "more"): (
            N_("Same weight, faster bow: does it clear?"),
            N_("keep the weight, use a faster bow"),
        ),
        ("speed", "less"): (
            N_("Same weight, slower bow: does it clear?"),
            N_("keep the weight, use a slower bow"),
        ),
        ("distance", "nearer"): (
            N_("Same weight, nearer the bridge: does it clear?"),
            N_("keep weight and speed, go nearer to the bridge"),
        ),
        ("distance", "farther"): (
            N_("Same weight, away from the bridge: does it clear?"),
            N_("keep weight and speed, go farther from the bridge"),
        ),
    }
)

#: As `_TRIALS`, and the cause, where a start is at fault.
_OF_STARTS: Mapping[Change, tuple[str, str, str]] = MappingProxyType(
    {
        ("speed", "more"): (
            N_("Same weight, quicker start: does it clear?"),
            N_("keep the weight, set off more quickly"),
            N_("the start was too slow for the weight"),
        ),
        ("speed", "less"): (
            N_("Same weight, slower start: does it clear?"),
            N_("keep the weight, set off more slowly"),
            N_("the start was too quick for the weight"),
        ),
    }
)

_BRIGHTER_TEST = Say(
    "Rounder or thinner? Listen and choose.",
    "To find the cause: less weight makes a forced tone rounder and a thin one thinner.",
    "Test: less weight rounds a forced tone and thins a surface tone.",
)
#: The tests in a sentence, with the fields ``{trial}``, ``{cause}`` and ``{other}``.
_TEST = Say(
    "",
    "To find the cause, play once like this: {trial}. If it clears, {cause}; if not, {other}.",
    "Test once: {trial}. If it clears, {cause}; if not, {other}.",
)
_DULLER_TEST = Say(
    "Which one is your good sound?",
    "To find the cause, play once like this: {trial}. If it sounds like the accepted tone, {cause}; if not, "
    "{other}.",
    "Test once: {trial}. If it sounds like the accepted tone, {cause}; if not, {other}.",
)


@dataclass(frozen=True, slots=True)
class Figures:
    """What fills the fields of a cure where instrument and note are known; what is None is left out."""

    lane_mm: float | None = None  #: width of one sounding point
    place_mm: float | None = None  #: from the bridge to the middle of the bowing room
    weight_n: float | None = None  #: to compare with a thing
    wander: Wander | None = None

    def words(self) -> dict[str, str]:
        """Return every field in words, empty where nothing is known."""
        fields = {"lane": "", "place": "", "hand": "", "holds": ""}
        if self.lane_mm is not None:
            fields["lane"] = _(" (about {width} mm)").format(width=f"{self.lane_mm:.0f}")
        if self.place_mm is not None:
            fields["place"] = _(", about {distance} mm from it").format(distance=f"{self.place_mm:.0f}")
        if self.weight_n is not None:
            fields["hand"] = _(", roughly the weight of {thing}").format(thing=hand_weight(self.weight_n))
        if self.wander is not None:
            fields["holds"] = _(" With a middling weight the tone holds {lane}.").format(
                lane=lane(self.wander)
            )
        return fields


def cure(fault: str, change: Variable, direction: Turn, *, figures: Figures | None = None) -> Say:
    """Return the sentence for one cure of a fault, with the figures that are known.

    Raises `KeyError` when the fault has no such cure.
    """
    words, known = CURES[fault, change, direction], figures or Figures()
    return said(lambda reader: words.to(reader).format(**known.words()))


def cause_test(fault: str, tried: Change, other: Change) -> Say:
    """Return the small test that tells two causes apart: make the change ``tried`` alone and listen."""
    if fault == "brighter":
        return _BRIGHTER_TEST
    child, trial, cause = *_TRIALS[tried], _CAUSES[tried]
    if fault.endswith("start") and tried in _OF_STARTS:
        child, trial, cause = _OF_STARTS[tried]
    words = _DULLER_TEST if fault == "duller" else replace(_TEST, child=child)
    return said(
        lambda reader: words.to(reader).format(trial=_(trial), cause=_(cause), other=_(_CAUSES[other]))
    )
