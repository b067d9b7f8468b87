"""Reasons in words: why a stroke did not pass, why a target differs, why an exercise is in the plan.

A `Remark` keeps a kind and figures, so that what is filed today can be said in another language tomorrow.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import _, figures
from colophony.teaching.exercises.exercise import Remark
from colophony.teaching.findings import Reader, Say

REMARKS: Mapping[str, Say] = MappingProxyType(
    {
        # --- what an instrument cannot do
        "closed-point": Say(
            "Lane {point} is closed on your instrument at this speed. Use lane {chosen}.",
            "At sounding point {point} there is hardly room on this instrument at this speed: {chosen} is "
            "the nearest that has.",
            "Sounding point {point} leaves less than 6 dB on this string at this speed; nearest with "
            "room: {chosen}.",
        ),
        "closed-speed": Say(
            "{beats} beats are too many for one bow here. Take {chosen}.",
            "With {beats} beats a bow there is hardly room on this instrument: take {chosen}.",
            "{beats} beats a bow leave less than 6 dB on this string; nearest with room: {chosen}.",
        ),
        # --- why a stroke did not pass, or could not be judged
        "tone-raucous": Say(
            "it growled.", "it scraped: clean for {share_percent} only.", "raucous; clean {share_percent}."
        ),
        "tone-multiple-slip": Say(
            "it skated on top of the string.",
            "it stayed on the surface: clean for {share_percent} only.",
            "surface sound; clean {share_percent}.",
        ),
        "tone-low-anomalous": Say(
            "it groaned.",
            "it groaned below the note: clean for {share_percent} only.",
            "period longer than the note's; clean {share_percent}.",
        ),
        "tone-noise": Say(
            "it hissed.",
            "it hissed without a note: clean for {share_percent} only.",
            "hair noise; clean {share_percent}.",
        ),
        "start-creaking": Say(
            "it began with a creak.",
            "it began with a creak.",
            "creaking start, too much weight for so slow a start.",
        ),
        "start-slipping": Say(
            "it began with a whistle.", "it began with a whistle.", "slipping start, too little weight."
        ),
        "start-slow": Say("it woke up late.", "it took long to speak.", "settled later than accepted."),
        "level-swings": Say(
            "it was louder and softer.",
            "the loudness swung by {swing} dB; {asked} are allowed.",
            "level swing {swing} dB, limit {asked} dB.",
        ),
        "pitch-swings": Say(
            "the note wobbled.",
            "the pitch swung by {swing} cents; {asked} are allowed.",
            "pitch swing {swing} cents, limit {asked}.",
        ),
        "level-too-flat": Say(
            "it did not grow enough.",
            "it grew by {rise_db} dB; {asked} are asked for.",
            "rise {rise_db} dB, asked {asked} dB.",
        ),
        "too-short": Say(
            "it was too short.",
            "it lasted {seconds} s of {asked_s} s.",
            "{seconds} s of {asked_s} s.",
        ),
        "unknown-tone": Say(
            "I could not hear it well.", "it could not be judged.", "not judged: the tone is unsure."
        ),
        "unknown-start": Say(
            "I could not hear how it began.", "its start could not be judged.", "not judged: start unknown."
        ),
        "unknown-level": Say(
            "I could not hear how loud it was.",
            "its loudness could not be judged.",
            "not judged: level unknown.",
        ),
        "unknown-pitch": Say(
            "I could not hear its note well.", "its pitch could not be judged.", "not judged: pitch unknown."
        ),
        # --- what to keep
        "keep-clean": Say(
            "Keep your clear sound: it sang {share_percent} of the time.",
            "Keep the clear tone: it held for {share_percent} of the bowed time.",
            "Clean for {share_percent} of bowed time in the last takes: keep.",
        ),
        "keep-starts": Say(
            "Keep your good beginnings.",
            "Keep the starts: {share_percent} of them spoke at once.",
            "Starts clean in {share_percent}: keep.",
        ),
        "keep-steady": Say(
            "Keep your even bow.",
            "Keep the even bow: the loudness swings by {swing} dB only.",
            "Level swing {swing} dB, median: keep.",
        ),
        "keep-passed": Say(
            "Keep what you can do. Passed so far: {count}.",
            "Keep what was reached. Exercises passed so far: {count}.",
            "Exercises passed: {count}; they come back in spaced reviews.",
        ),
        "nothing-heard": Say(
            "Record yourself this week. Then I can tell you more.",
            "Nothing was heard yet: this is a first week for this instrument. Record a take, and the "
            "next plan fits better.",
            "No takes yet: an opening week for this instrument; spread assumed for the age.",
        ),
        # --- what to change
        "change-pressed": Say(
            "Less growling: let go of some weight.",
            "The tone was pressed (bows: {count}): less weight for the speed, or more bow.",
            "Pressed (strokes: {count}): weight against speed and place.",
        ),
        "change-groaning": Say(
            "No more groaning: a lighter, livelier bow.",
            "The string groaned below its note (bows: {count}): much less weight, more bow.",
            "Below the note (strokes: {count}): far too much weight for the speed.",
        ),
        "change-surface": Say(
            "Get into the string: no skating.",
            "The tone stayed on the surface (bows: {count}): a little more weight, or nearer to the bridge.",
            "Surface sound (strokes: {count}): weight against speed and place.",
        ),
        "change-no-tone": Say(
            "Less hiss, more note.",
            "There was hair noise without a note (bows: {count}): let the weight of the arm into the string.",
            "Hair noise (strokes: {count}): weight below the least.",
        ),
        "change-creaking-start": Say(
            "Begin without a creak.",
            "Bows that began with a creak: {count}. Lighter, or a quicker start.",
            "Creaking starts: {count}. Weight against acceleration.",
        ),
        "change-slipping-start": Say(
            "Begin without a whistle.",
            "Bows that began with a whistle: {count}. Set the hair first, then move.",
            "Slipping starts: {count}. Weight against acceleration.",
        ),
        "change-brighter": Say(
            "Find your good sound again: less harsh.",
            "Bows brighter than your accepted tone: {count}. Lighter, or farther from the bridge.",
            "Brighter than the reference (strokes: {count}).",
        ),
        "change-duller": Say(
            "Find your good sound again: more shine.",
            "Bows duller than your accepted tone: {count}. A little more weight, or nearer to the bridge.",
            "Duller than the reference (strokes: {count}).",
        ),
        "change-nothing": Say(
            "Nothing to repair: on to new things.",
            "Nothing needs repair: the next steps come first.",
            "No fault in the last takes: next steps come first.",
        ),
        # --- why an exercise is in the plan
        "why-reference": Say(
            "So that we know your best sound.",
            "A record of the tone you like: later takes are compared with it.",
            "Reference take: speed and place are known, later takes are held against it.",
        ),
        "why-warm-up": Say(
            "To warm up: you can do this.", "To warm up: easy and known.", "Warm-up on the widest range."
        ),
        "why-fault": Say(
            "It helps with what was hard last time.",
            "It works on what the last takes showed.",
            "Trains against the main fault of the last takes.",
        ),
        "why-new": Say(
            "The next step for you.",
            "The next step: what it builds on is passed.",
            "Next by room; its requirements are passed.",
        ),
        "why-opening": Say(
            "A good one to begin with.",
            "A good one to begin with: it needs nothing before it.",
            "Opening step: no requirements, widest range first.",
        ),
        "why-later": Say(
            "When the one before works.",
            "As soon as “{title}” works; leave it out until then.",
            "Once “{title}” passes; left out until then.",
        ),
        "why-again": Say(
            "Almost there: try again.",
            "It was tried and is not passed yet.",
            "Tries without a pass: {count}.",
        ),
        "why-review": Say(
            "You can do this. Show it again, so that it stays.",
            "Days since it was passed: {days}. Play it again, so that it stays.",
            "Spaced review; days since the last pass: {days}.",
        ),
    }
)

#: Values that are messages themselves.
_MESSAGES = ("title",)


#: Values that count in quarters: sounding points and beats.
_QUARTERS = ("point", "chosen", "beats")


def remark_words(remark: Remark, reader: Reader) -> str:
    """Return a remark in the words of a reader; raises `KeyError` for a kind that is not in `REMARKS`."""
    told: dict[str, str] = {}
    for name, value in remark.values.items():
        if isinstance(value, str):
            told[name] = _(value) if name in _MESSAGES else value
        else:
            told[name] = _figure(value, in_quarters=name in _QUARTERS)
    share = remark.values.get("share")
    if isinstance(share, float):
        told["share_percent"] = _("{n} %").format(n=f"{100.0 * share:.0f}")
    return REMARKS[remark.kind].to(reader).format(**told)


def _figure(value: float, *, in_quarters: bool) -> str:
    """Return a number: whole where it is, else with one decimal below ten, quarters as they are."""
    if value == int(value) or (in_quarters and float(4.0 * value).is_integer()):
        return figures(f"{value:g}")
    return figures(f"{value:.1f}" if abs(value) < 10.0 else f"{value:.0f}")
