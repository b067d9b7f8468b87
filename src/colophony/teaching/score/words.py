"""What a bow plan says to a child, an adult, a teacher: remarks, rules, ways out, the sentence on top."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import N_, _, figures, ngettext, note_name
from colophony.teaching.findings import Reader, Say
from colophony.teaching.score.piece import Remark
from colophony.teaching.score.strokes import Alternative, Change, Means, Plan, Rule, Stroke

#: Remarks by name. Those of a stroke come first, those on reading behind them.
REMARKS: Mapping[str, Say] = MappingProxyType(
    {
        "hair-out": Say(
            child="Measure {measure}: the bow is too short for this.",
            adult="Measure {measure}: the bow runs out, {missing_mm} mm of hair are missing.",
            teacher="Measure {measure}: the bow runs out. At its slowest for this dynamic the stroke needs "
            "{needs_mm} mm of hair, and {has_mm} mm are left.",
        ),
        "no-time": Say(
            child="Measure {measure}: lift the bow quickly and start again.",
            adult="Measure {measure}: the bow is set anew without a rest to do it in.",
            teacher="Measure {measure}: the bow is set anew without a rest; the note before gives the time.",
        ),
        "no-room": Say(
            child="Measure {measure}: this note is very hard to make ring.",
            adult="Measure {measure}: at this speed no weight is sure to make the string speak.",
            teacher="Measure {measure}: no playable range at this speed on any sounding point.",
        ),
        "narrow": Say(
            child="Measure {measure}: be careful here, the bow has little room.",
            adult="Measure {measure}: there is little room for the weight, {range_db} dB.",
            teacher="Measure {measure}: the range of weight is narrow, {range_db} dB.",
        ),
        "too-soft": Say(
            child="Measure {measure}: this will be softer than written.",
            adult="Measure {measure}: with so slow a bow this is about {level_db} dB softer than written.",
            teacher="Measure {measure}: speed over contact distance stays {level_db} dB below the dynamic.",
        ),
        "too-loud": Say(
            child="Measure {measure}: this will be louder than written; bow lightly.",
            adult="Measure {measure}: with so fast a bow this is about {level_db} dB louder than written.",
            teacher="Measure {measure}: speed over contact distance is {level_db} dB above the dynamic, also "
            "at the fingerboard.",
        ),
        "turned-repeat": Say(
            child="Measure {measure}: on the repeat the bow goes the other way round.",
            adult="Measure {measure}: on the repeat the bow goes the other way round from here.",
            teacher="Measure {measure}: time {passing} through begins the other way round; set the bow anew "
            "before it to keep the bowings.",
        ),
        "reach": Say(
            child="Measure {measure}: {notes} is not on this instrument.",
            adult="Measure {measure}: {notes} does not lie on this instrument.",
            teacher="Measure {measure}: {notes} does not lie on any string; it has no place and weight here.",
        ),
        "double-stop": Say(
            child="Measure {measure}: {notes} cannot be held together.",
            adult="Measure {measure}: {notes} do not lie on two neighbouring strings.",
            teacher="Measure {measure}: {notes} do not lie on two neighbouring strings within a hand's "
            "reach; they have no place and weight here.",
        ),
        "voices": Say(
            child="Measure {measure}: only the upper voice is planned.",
            adult="Measure {measure}: only the upper voice is planned; the lower one moves differently.",
            teacher="Measure {measure}: a second voice of another rhythm is left out.",
        ),
        "staves": Say(
            child="Only the upper line is planned.",
            adult="The part has two staves; only the upper one is planned.",
            teacher="The part has two staves; only the upper one is planned.",
        ),
        "unpitched": Say(
            child="Measure {measure}: a note without a pitch is left out.",
            adult="Measure {measure}: a note without a pitch is left out.",
            teacher="Measure {measure}: unpitched notes are left out.",
        ),
        "tremolo": Say(
            child="Measure {measure}: the tremolo is planned as one stroke.",
            adult="Measure {measure}: the tremolo is planned as one stroke.",
            teacher="Measure {measure}: the tremolo is planned as one stroke.",
        ),
        "special-sound": Say(
            child="Measure {measure}: “{words}” is not in the plan.",
            adult="Measure {measure}: the plan does not know “{words}”; it is for the ordinary tone.",
            teacher="Measure {measure}: “{words}” is not planned; the plan is for the ordinary tone.",
        ),
        "tempo-change": Say(
            child="Measure {measure}: “{words}” is not in the plan.",
            adult="Measure {measure}: “{words}” is not planned; the tempo stays.",
            teacher="Measure {measure}: “{words}” is not planned; the tempo stays as it was.",
        ),
        "open-word": Say(
            child="Measure {measure}: nothing says how far “{words}” goes.",
            adult="Measure {measure}: “{words}” has no dynamic behind it and is not planned.",
            teacher="Measure {measure}: “{words}” leads to no dynamic within eight measures: not planned.",
        ),
        "repeats": Say(
            child="The repeats are played once.",
            adult="The signs of repetition do not fit together: the page is planned once through.",
            teacher="Repeats, endings or jumps of the page do not fit together: it is planned once through.",
        ),
        "no-tempo": Say(
            child="The page does not say how fast; the plan takes {tempo} quarters a minute.",
            adult="The page gives no tempo; planned at {tempo} quarter notes a minute.",
            teacher="The page gives no tempo; planned at {tempo} quarter notes a minute. Give yours.",
        ),
        "tempo-word": Say(
            child="The plan takes “{words}” as {tempo} quarters a minute.",
            adult="“{words}” is taken as {tempo} quarter notes a minute.",
            teacher="“{words}” is taken as {tempo} quarter notes a minute. Give yours.",
        ),
    }
)

#: Why a stroke goes its way.
RULES: Mapping[Rule, str] = MappingProxyType(
    {
        "written": N_("as written"),
        "strong-beat": N_("down on the strong beat"),
        "pickup": N_("up before the strong beat"),
        "alternates": N_("turns back"),
        "rest": N_("set anew after the rest"),
        "linked": N_("linked: the same way again, with a stop"),
        "chord": N_("a chord from the frog, down"),
        "ahead": N_("so that what follows falls right"),
        "plucked": N_("plucked"),
    }
)

#: What to change, by name of the change.
_CHANGES: Mapping[Change, Say] = MappingProxyType(
    {
        "split": Say(
            child="Turn the bow after {note}.",
            adult="Split the slur: turn the bow after {note}.",
            teacher="Split the slur after {note}.",
        ),
        "split-note": Say(
            child="Use {bows} bows for the long note, and turn very softly.",
            adult="Take {bows} bows for the long note, and turn unheard.",
            teacher="{bows} bows for the note, of even length, turned unheard.",
        ),
        "nearer-frog": Say(
            child="Start close to the frog.",
            adult="Start nearer the frog, and come there in time.",
            teacher="Start at the frog: the strokes before it come back by then.",
        ),
        "nearer-tip": Say(
            child="Start close to the tip.",
            adult="Start nearer the tip, and come there in time.",
            teacher="Start at the tip: the strokes before it come out by then.",
        ),
        "point": Say(
            child="Bow slowly, a little closer to the bridge.",
            adult="Bow more slowly and nearer to the bridge, at sounding point {point}.",
            teacher="A slower bow at sounding point {point} has the same level.",
        ),
        "faster-tempo": Say(
            child="Play a little faster, {tempo} quarters a minute.",
            adult="At {tempo} quarter notes a minute there is hair enough.",
            teacher="From {tempo} quarter notes a minute on there is hair enough.",
        ),
        "turned": Say(
            child="Bow it the other way round.",
            adult="Bow it the other way round than written.",
            teacher="Against the written sign: the other way round.",
        ),
    }
)

_MEANS: Mapping[Means, str] = MappingProxyType(
    {"speed": N_("speed"), "weight": N_("weight"), "point": N_("sounding point")}
)


def remark(one: Remark, *, reader: Reader) -> str:
    """Return what a remark says; `KeyError` for a name that is none of `REMARKS`."""
    values = {name: figures(f"{v:g}") if isinstance(v, float) else v for name, v in one.values.items()}
    if "notes" in values:
        values["notes"] = notes(str(values["notes"]))
    return REMARKS[one.name].to(reader).format(measure=one.measure, **values)


def notes(spelled: str) -> str:
    """Return notes as the language's players write them: ``Bb3+D4`` is ``B♭3+D4``."""
    return "+".join(
        note_name(name[0] + name[1:].replace("#", "♯").replace("b", "♭")) for name in spelled.split("+")
    )


def rule(name: Rule) -> str:
    """Return why a stroke goes its way, in a few words."""
    return _(RULES[name])


def means(names: tuple[Means, ...]) -> str:
    """Return what a hairpin changes, the most first, in a few words; empty where nothing changes."""
    return ", ".join(_(_MEANS[name]) for name in names)


def alternative(one: Alternative, stroke: Stroke, *, reader: Reader) -> str:
    """Return a way out as a sentence."""
    note = ", ".join(
        _("{note} ({n} of {whole})").format(note=notes(stroke.notes[k]), n=k + 1, whole=len(stroke.notes))
        for k in one.after_notes
    )
    return (
        _CHANGES[one.change]
        .to(reader)
        .format(
            bows=one.bows,
            note=note,
            point="" if one.sounding_point is None else figures(f"{one.sounding_point:.1f}"),
            tempo="" if one.tempo is None else f"{one.tempo:.0f}",
        )
    )


def headline(plan: Plan) -> str:
    """Return the sentence on top: where the bow runs out, or that it reaches."""
    bowed = [stroke for stroke in plan.strokes if not stroke.is_plucked]
    short = [stroke for stroke in bowed if _has(stroke, "hair-out")]
    hard = [stroke for stroke in bowed if _has(stroke, "no-room") or _has(stroke, "no-time")]
    if not bowed:
        return _("Everything is plucked: there is no bow to plan.")
    if short:
        return ngettext(
            "In the only stroke the bow runs out.",
            "In {n} of {whole} strokes the bow runs out.",
            len(bowed),
        ).format(n=len(short), whole=len(bowed))
    if hard:
        return ngettext(
            "The bow reaches, but the only stroke is hard to begin or to make speak.",
            "The bow reaches everywhere; hard to begin or to make speak: {n} of {whole} strokes.",
            len(bowed),
        ).format(n=len(hard), whole=len(bowed))
    return ngettext(
        "The bow reaches: {whole} stroke, and hair enough for it.",
        "The bow reaches: {whole} strokes, and hair enough for each.",
        len(bowed),
    ).format(whole=len(bowed))


def _has(stroke: Stroke, name: str) -> bool:
    return any(one.name == name for one in stroke.remarks)
