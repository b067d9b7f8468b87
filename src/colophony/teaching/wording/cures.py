"""What to change, in words: one sentence for every cure of every fault, and the tests that part causes.

The fields ``{lane}``, ``{place}``, ``{hand}`` and ``{holds}`` carry figures when instrument and note are
known and are empty otherwise. "A little" is the same everywhere: a bow in three counts where it took four (or
the reverse), a quarter of the weight less or a third more, one sounding point. The first two are 2.5 dB
either way.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.teaching.findings import Say, Turn, Variable
from colophony.teaching.room import Change

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

#: What was wrong if a change helps, as the end of a sentence for adults.
_CAUSES: Mapping[Change, str] = MappingProxyType(
    {
        ("weight", "less"): "there was too much weight",
        ("weight", "more"): "there was too little weight",
        ("speed", "more"): "the bow was too slow",
        ("speed", "less"): "the bow was too fast",
        ("distance", "nearer"): "the bow was too far from the bridge",
        ("distance", "farther"): "the bow was too near the bridge",
    }
)

#: One change made alone, as a small test.
_TRIALS: Mapping[Change, tuple[str, str]] = MappingProxyType(
    {
        ("weight", "less"): (
            "Same bow, less weight: does it clear?",
            "keep speed and place, take some weight off",
        ),
        ("weight", "more"): (
            "Same bow, more weight: does it clear?",
            "keep speed and place, give more weight",
        ),
        ("speed", "more"): ("Same weight, faster bow: does it clear?", "keep the weight, use a faster bow"),
        ("speed", "less"): ("Same weight, slower bow: does it clear?", "keep the weight, use a slower bow"),
        ("distance", "nearer"): (
            "Same weight, nearer the bridge: does it clear?",
            "keep weight and speed, go nearer to the bridge",
        ),
        ("distance", "farther"): (
            "Same weight, away from the bridge: does it clear?",
            "keep weight and speed, go farther from the bridge",
        ),
    }
)

_OF_STARTS: Mapping[Change, tuple[str, str, str]] = MappingProxyType(
    {
        ("speed", "more"): (
            "Same weight, quicker start: does it clear?",
            "keep the weight, set off more quickly",
            "the start was too slow for the weight",
        ),
        ("speed", "less"): (
            "Same weight, slower start: does it clear?",
            "keep the weight, set off more slowly",
            "the start was too quick for the weight",
        ),
    }
)


def cure(fault: str, change: Variable, direction: Turn, *, figures: Mapping[str, str]) -> Say:
    """Return the sentence for one cure of a fault.

    ``figures`` fills the fields ``lane`` (width of a sounding point), ``place`` (where the middle of the
    bowing room lies), ``hand`` (a weight to compare with) and ``holds`` (a sentence: from where to where the
    tone holds); what is missing is left out.
    Raises `KeyError` when the fault has no such cure.
    """
    filled = {"lane": "", "place": "", "hand": "", "holds": ""} | dict(figures)
    words = CURES[fault, change, direction]
    return Say(words.child, words.adult.format(**filled), words.teacher.format(**filled))


def cause_test(fault: str, tried: Change, other: Change) -> Say:
    """Return the small test that tells two causes apart: make the change ``tried`` alone and listen."""
    if fault == "brighter":
        return Say(
            "Rounder or thinner? Listen and choose.",
            "To find the cause: less weight makes a forced tone rounder and a thin one thinner.",
            "Test: less weight rounds a forced tone and thins a surface tone.",
        )
    child, trial = _TRIALS[tried]
    cause = _CAUSES[tried]
    if fault.endswith("start") and tried in _OF_STARTS:
        child, trial, cause = _OF_STARTS[tried]
    if fault == "duller":
        child = "Which one is your good sound?"
    better = "it sounds like the accepted tone" if fault == "duller" else "it clears"
    return Say(
        child,
        f"To find the cause, play once like this: {trial}. If {better}, {cause}; if not, {_CAUSES[other]}.",
        f"Test once: {trial}. If {better}, {cause}; if not, {_CAUSES[other]}.",
    )


#: Things whose weight a hand knows, in grams. A sheet of A4 is 1/16 m^2 (ISO 216), at 80 g/m^2 5 g; the
#: others are common knowledge, no source.
_KNOWN_WEIGHTS_G = (
    (5, "a sheet of paper"),
    (10, "two sheets of paper"),
    (25, "a slice of bread"),
    (60, "an egg"),
    (100, "a bar of chocolate"),
    (150, "an apple"),
    (250, "a pack of butter"),
    (500, "two packs of butter"),
    (1000, "a bag of flour"),
)
_GRAVITY_M_S2 = 9.81


def hand_weight(newton: float) -> str:
    """Return a thing of about this weight that a hand knows, the nearest in proportion: "an egg"."""
    grams = 1000.0 * newton / _GRAVITY_M_S2
    return min(_KNOWN_WEIGHTS_G, key=lambda known: max(known[0] / grams, grams / known[0]))[1]
