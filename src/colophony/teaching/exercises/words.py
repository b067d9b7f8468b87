"""What an exercise asks, and what came of it, in the words of a child, an adult and a teacher."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import N_, _, figures, ngettext, note_name
from colophony.teaching.exercises.exercise import (
    Difficulty,
    Passed,
    PassRule,
    StrokeCheck,
    Target,
    TargetPlace,
)
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.findings import Reader, Say
from colophony.teaching.wording import hand_weight

#: Beyond this the hair counts as tilted at all, degrees.
_TILTED_DEG = 2.0

PART_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "whole": N_("the whole bow"),
        "lower-half": N_("the lower half"),
        "upper-half": N_("the upper half"),
        "middle": N_("the middle of the bow"),
        "frog": N_("at the frog"),
        "tip": N_("at the tip"),
    }
)

LEVEL_WORDS: Mapping[str, Say] = MappingProxyType(
    {
        "wide": Say(
            "This one has lots of room.",
            "There is plenty of room: a good place to begin.",
            "Wide: the range holds the spread nearly twice.",
        ),
        "fair": Say(
            "This one has room enough.",
            "There is room enough to succeed with a little care.",
            "Fair: the range holds the spread with some reserve.",
        ),
        "narrow": Say(
            "This one is a narrow path.",
            "The room is narrow: most bows should succeed, some will not.",
            "Narrow: the range just holds the spread.",
        ),
        "too-narrow": Say(
            "This one is a tightrope. Go slowly.",
            "The room is narrower than the bow wanders now: take it in small steps.",
            "Too narrow for the present spread: use it as a stretch, not as a test.",
        ),
    }
)

OUTCOME_WORDS: Mapping[str, Say] = MappingProxyType(
    {
        "passed": Say("Done! You passed.", "Passed.", "Passed."),
        "not-yet": Say("Not yet. Try again another day.", "Not yet.", "Not yet."),
        "cannot-say": Say(
            "I could not hear enough bows.",
            "Too few bows could be judged to say.",
            "Undecided: too few strokes could be judged.",
        ),
    }
)


def target_words(target: Target, reader: Reader) -> tuple[str, ...]:
    """Return what is asked on one string, a sentence each: bow, place, weight, hair, and what was changed."""
    return (
        string_words(target),
        stroke_words(target),
        *place_words(target, reader),
        *weight_words(target, reader),
        tilt_words(target),
        *((speed_words(target),) if reader == "teacher" else ()),
        *(remark_words(remark, reader) for remark in target.instead),
        *((_("From published limits, not from the map of this string."),) if not target.is_computed else ()),
    )


def string_words(target: Target) -> str:
    """Return where it is played: "Open A string" or "E5 on the A string"."""
    if abs(target.begin.distance_mm - target.begin.distance_open_mm) < 0.01:  # nothing shortens the string
        return _("Open {string} string.").format(string=target.string)
    note = note_name(target.note).replace("#", "♯")
    return _("{note} on the {string} string.").format(note=note, string=target.string)


def stroke_words(target: Target) -> str:
    """Return part of the bow and beats: "The whole bow in 4 beats at 60 a minute"."""
    return _("One bow: {part}, {beats}.").format(
        part=_(PART_WORDS[target.part]), beats=beats_words(target.beats, target.tempo)
    )


def beats_words(beats: float, tempo: float) -> str:
    """Return beats and tempo: "4 beats at 60 a minute"."""
    count = int(beats) if beats == int(beats) else 2  # a fraction takes the plural
    number = figures(f"{beats:g}")
    return ngettext("{beats} beat at {tempo} a minute", "{beats} beats at {tempo} a minute", count).format(
        beats=number, tempo=f"{tempo:g}"
    )


def place_words(target: Target, reader: Reader) -> tuple[str, ...]:
    """Return where the bow runs, and within what the tone holds."""
    begin, end = target.begin, target.end
    if begin.sounding_point != end.sounding_point:
        words = Say(
            N_("Begin in lane {point} and glide to lane {to_point}."),
            N_("From sounding point {point} ({mm} from the bridge) to {to_point} ({to_mm})."),
            N_("From sounding point {point} ({mm} from the bridge) to {to_point} ({to_mm})."),
        )
        return (
            words.to(reader).format(
                point=_point(begin),
                mm=_mm(begin.distance_mm),
                to_point=_point(end),
                to_mm=_mm(end.distance_mm),
            ),
        )
    if begin.distance_span_mm is None:
        words = Say(
            N_("Stay in lane {point}."),
            N_("Stay at sounding point {point}, {mm} from the bridge, give or take {off}."),
            N_("Sounding point {point}, {mm} from the bridge, ±{off}."),
        )
        near = far = ""
    else:
        words = Say(
            N_("Stay in lane {point}."),
            N_(
                "Stay at sounding point {point}, {mm} from the bridge, give or take {off}. With this "
                "weight the tone holds from {near} to {far}."
            ),
            N_("Sounding point {point}, {mm} from the bridge, ±{off}; at this weight {near} to {far} speak."),
        )
        near, far = (_mm(one) for one in begin.distance_span_mm)
    return (
        words.to(reader).format(
            point=_point(begin),
            mm=_mm(begin.distance_mm),
            off=_mm(begin.distance_tolerance_mm),
            near=near,
            far=far,
        ),
    )


def weight_words(target: Target, reader: Reader) -> tuple[str, ...]:
    """Return the weight, with a thing that a hand knows; of a moving bow at both ends."""
    begin, end = target.begin, target.end
    if reader == "teacher":
        return tuple(dict.fromkeys(_newton_words(place) for place in target.places))
    things = hand_weight(begin.weight_n), hand_weight(end.weight_n)
    if things[0] != things[1]:
        words = Say(
            N_("Your arm rests on the string like {thing} at first, like {to_thing} at the end."),
            N_("The string carries about the weight of {thing} first, of {to_thing} at the end."),
            "",
        )
    else:
        words = Say(
            N_("Your arm rests on the string like {thing}."),
            N_("The string carries about the weight of {thing}."),
            "",
        )
    return (words.to(reader).format(thing=things[0], to_thing=things[1]),)


def _newton_words(place: TargetPlace) -> str:
    return _(
        "At sounding point {point}: {weight} N of {least} to {greatest} N ({range_db} dB), ±{off_db} dB."
    ).format(
        point=_point(place),
        weight=_newton(place.weight_n),
        least=_newton(place.weight_span_n[0]),
        greatest=_newton(place.weight_span_n[1]),
        range_db=f"{place.range_db:.0f}",
        off_db=f"{place.weight_tolerance_db:.0f}",
    )


def tilt_words(target: Target) -> str:
    """Return how the hair lies: flat, tilted, or rolled from one to the other."""
    begin, end = (abs(one) for one in target.tilt_deg)
    if max(begin, end) <= _TILTED_DEG:
        return _("Hair flat.")
    if begin == end:
        return _("Hair tilted towards the fingerboard, about {tilt}°.").format(tilt=f"{end:.0f}")
    if begin <= _TILTED_DEG:
        return _("Hair flat at first, tilted about {tilt}° at the end.").format(tilt=f"{end:.0f}")
    return _("Hair tilted from about {tilt}° to {to_tilt}°.").format(
        tilt=f"{begin:.0f}", to_tilt=f"{end:.0f}"
    )


def speed_words(target: Target) -> str:
    """Return the speed with its tolerance and the hair that a bow uses, for a teacher."""
    return _("{speed} cm/s, ±{off} %; {used} mm of {hair} mm of hair.").format(
        speed=f"{target.speed_cm_s:.0f}",
        off=f"{100 * target.speed_tolerance:.0f}",
        used=f"{target.bow_used_mm:.0f}",
        hair=f"{target.hair_mm:.0f}",
    )


def rule_words(rule: PassRule, reader: Reader) -> str:
    """Return when an exercise is passed; a child hears the count alone."""
    count = Say(
        N_("Goal: {at_least} good ones of {of} bows."),
        N_("Passed when {at_least} of {of} bows are clean for {share} of their time."),
        N_("Passed: {at_least} of {of} strokes, each clean (helmholtz or steady) for {share} of its time."),
    )
    told = count.to(reader).format(
        at_least=rule.at_least, of=rule.of, share=_("{n} %").format(n=f"{100 * rule.clean_share:.0f}")
    )
    if reader == "child":
        return told
    more = []
    if rule.start == "clean":
        more.append(_("Each starts cleanly."))
    if rule.start == "slow":
        more.append(_("Each starts cleanly or a little late."))
    if rule.level_within_db is not None:
        more.append(_("The loudness swings by {db} dB at most.").format(db=f"{rule.level_within_db:g}"))
    if rule.pitch_within_cents is not None:
        more.append(_("The pitch stays within {cents} cents.").format(cents=f"{rule.pitch_within_cents:g}"))
    if rule.level_rises_db is not None:
        more.append(
            _("The last third is at least {db} dB louder than the first.").format(
                db=f"{rule.level_rises_db:g}"
            )
        )
    if rule.lasts_share is not None:
        more.append(
            _("The bow lasts {share} of its beats.").format(
                share=_("{n} %").format(n=f"{100 * rule.lasts_share:.0f}")
            )
        )
    return " ".join([told, *more])


def difficulty_words(difficulty: Difficulty, reader: Reader) -> str:
    """Return how much room there is beside the student's spread; a teacher hears the figures."""
    told = LEVEL_WORDS[difficulty.level].to(reader)
    if reader != "teacher":
        return told
    figures_told = _("Range {range_db} dB beside a spread of {spread_db} dB.").format(
        range_db=f"{difficulty.range_db:.0f}", spread_db=f"{difficulty.spread_db:.0f}"
    )
    if difficulty.is_estimated:
        figures_told += " " + _("The spread is assumed for the age until takes are heard.")
    return f"{told} {figures_told}"


def passed_words(passed: Passed, reader: Reader) -> str:
    """Return what came of a take: the outcome and the count."""
    return f"{outcome_words(passed, reader)} {count_words(passed)}"


def outcome_words(passed: Passed, reader: Reader) -> str:
    """Return what came of a take in one sentence."""
    return OUTCOME_WORDS[passed.outcome].to(reader)


def count_words(passed: Passed) -> str:
    """Return how many bows succeeded, how many were asked for, and how many were left out."""
    if passed.judged:
        told = _("{passed} of {judged} bows succeeded; {needed} of {of} were asked for.")
    elif passed.strokes:
        told = _("None of the bows could be judged; {needed} of {of} were asked for.")
    else:
        told = _("No bow of this exercise was heard; {needed} of {of} were asked for.")
    told = told.format(passed=passed.passed, judged=passed.judged, needed=passed.needed, of=passed.of)
    if passed.left_out:
        told += " " + _("Left out, being other notes or no bows: {n}.").format(n=passed.left_out)
    return told


def stroke_check_words(check: StrokeCheck, reader: Reader) -> str:
    """Return what is to be said of one stroke: "Bow 3: ..."; a stroke that passed has one word."""
    reasons = [remark_words(remark, reader).removesuffix(".") for remark in check.why]
    told = "; ".join(reasons) + "." if reasons else _("good.")
    return _("Bow {number}: {told}").format(number=check.number, told=told)


def _point(place: TargetPlace) -> str:
    return figures(f"{place.sounding_point:.3g}")


def _mm(value: float) -> str:
    return f"{value:.0f}\u00a0mm"  # a number stays beside its unit


def _newton(value: float) -> str:
    return figures(f"{value:.2g}")
