"""What changed over weeks, in words: the headline, a sentence a measure, the fault that went or stayed."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import figures, ngettext
from colophony.teaching.findings import Reader, Say
from colophony.teaching.progress import (
    LEAST_DAYS,
    LEAST_SPAN_DAYS,
    Change,
    FaultThen,
    Measure,
    Progress,
)

#: What a measure is called above its plot.
NAMES: Mapping[Measure, Say] = MappingProxyType(
    {
        "clean_share": Say("How long it sang", "Clear tone, share of the time", "Clean share of bowed time"),
        "clean_starts": Say("Good beginnings", "Starts that spoke at once", "Share of clean starts"),
        "level_swing_db": Say("How even it was", "Swing of loudness in a stroke", "Level swing in a stroke"),
    }
)

#: A change for the better, for the worse, and none that is sure. ``{first}`` and ``{last}`` are figures.
_BETTER: Mapping[Measure, Say] = MappingProxyType(
    {
        "clean_share": Say(
            "Your tone sings longer: it was {first} of the time, now it is {last}.",
            "The tone has become clearer: from {first} of the bowed time to {last}.",
            "Clean share of bowed time rose from {first} to {last}.",
        ),
        "clean_starts": Say(
            "More of your notes begin well: it was {first} of them, now it is {last}.",
            "More notes speak at once: from {first} of the starts to {last}.",
            "Clean starts rose from {first} to {last}.",
        ),
        "level_swing_db": Say(
            "Your bow has become more even.",
            "The bow has become more even: within a stroke loudness swings {share} less than before.",
            "Level swing within a stroke fell from {first} to {last}.",
        ),
    }
)
_WORSE: Mapping[Measure, Say] = MappingProxyType(
    {
        "clean_share": Say(
            "Your tone sang a little less: it was {first} of the time, now it is {last}. New things are "
            "hard at first.",
            "The tone was clear less of the time: {last} now, {first} before. Harder music does that; play "
            "an old exercise to find out.",
            "Clean share of bowed time fell from {first} to {last}; compare on the music of the earlier "
            "weeks.",
        ),
        "clean_starts": Say(
            "Fewer of your notes begin well: it was {first} of them, now it is {last}. New things are hard "
            "at first.",
            "Fewer notes speak at once: {last} of the starts now, {first} before. Harder music does that; "
            "play an old exercise to find out.",
            "Clean starts fell from {first} to {last}; compare on the music of the earlier weeks.",
        ),
        "level_swing_db": Say(
            "Your bow was more even before. Long, slow bows help.",
            "The bow was more even before: within a stroke loudness swings {share} more now.",
            "Level swing within a stroke rose from {first} to {last}.",
        ),
    }
)
_SAME: Mapping[Measure, Say] = MappingProxyType(
    {
        "clean_share": Say(
            "Your tone sings about as long as before: {typical} of the time.",
            "The share of clear tone goes up and down around {typical}; no change is sure.",
            "Clean share around {typical}; no change beyond the scatter of days.",
        ),
        "clean_starts": Say(
            "About as many notes begin well as before: {typical} of them.",
            "The share of starts that speak at once goes up and down around {typical}; no change is sure.",
            "Clean starts around {typical}; no change beyond the scatter of days.",
        ),
        "level_swing_db": Say(
            "Your bow is about as even as before.",
            "Within a stroke loudness swings about as much as before; no change is sure.",
            "Level swing around {typical}; no change beyond the scatter of days.",
        ),
    }
)

_NONE = Say(
    "No takes yet. Record one, and we will see.",
    "No takes on this instrument yet: the first one begins the record.",
    "No takes on this instrument yet.",
)
_SOON = Say(
    "This is the beginning. Record again each week, then we can see what grows.",
    "Too early to tell a change from good and bad days: that takes {days} days of playing over at least "
    "{weeks} weeks.",
    "Too few days: a change is told from {days} days over {weeks} weeks on.",
)
_NO_CHANGE = Say(
    "About as before. That is fine: things grow in steps.",
    "Nothing changed by more than it goes up and down from day to day.",
    "No change beyond the scatter of days.",
)

#: The fault that came most often in the earlier half: gone down, or still there.
_FAULT_LESS: Mapping[str, Say] = MappingProxyType(
    {
        "pressed": Say(
            "The bow growls less: it was {before} of the strokes, now it is {after}.",
            "Pressed strokes became fewer: {before} of all at first, {after} lately.",
            "Pressed: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "groaning": Say(
            "The string groans less: it was {before} of the strokes, now it is {after}.",
            "Groaning strokes became fewer: {before} of all at first, {after} lately.",
            "Groaning: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "surface": Say(
            "The bow skates less: it was {before} of the strokes, now it is {after}.",
            "Surface sound became rarer: {before} of all strokes at first, {after} lately.",
            "Surface sound: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "no-tone": Say(
            "The bow hisses less: it was {before} of the strokes, now it is {after}.",
            "Strokes without a tone became fewer: {before} of all at first, {after} lately.",
            "Hair noise without tone: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "creaking-start": Say(
            "Fewer notes begin with a creak: it was {before} of them, now it is {after}.",
            "Creaking starts became fewer: {before} of all strokes at first, {after} lately.",
            "Creaking starts: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "slipping-start": Say(
            "Fewer notes begin with a whistle: it was {before} of them, now it is {after}.",
            "Whistling starts became fewer: {before} of all strokes at first, {after} lately.",
            "Slipping starts: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "brighter": Say(
            "Fewer strokes sound harsh: it was {before} of them, now it is {after}.",
            "Strokes brighter than the accepted tone became fewer: {before} at first, {after} lately.",
            "Brighter than the reference: {before} of strokes in the earlier half, {after} in the later.",
        ),
        "duller": Say(
            "Fewer strokes sound dull: it was {before} of them, now it is {after}.",
            "Strokes duller than the accepted tone became fewer: {before} at first, {after} lately.",
            "Duller than the reference: {before} of strokes in the earlier half, {after} in the later.",
        ),
    }
)
#: A fault is told as less where at least so large a share of it went. Chosen.
_LESS = 1 / 3


def headline(progress: Progress, *, reader: Reader) -> str:
    """Return one sentence: the first sure change, else that there is none, or that it is too early."""
    if not progress.takes:
        return _NONE.to(reader)
    if is_early(progress):
        return _SOON.to(reader).format(days=LEAST_DAYS, weeks=LEAST_SPAN_DAYS // 7)
    clear = [change for change in progress.changes if change.is_clear]
    if not clear:
        return _NO_CHANGE.to(reader)
    return change_sentence(min(clear, key=lambda change: not change.is_better), reader=reader)


def is_early(progress: Progress) -> bool:
    """Return whether there are too few days to tell any change."""
    days = max((change.days for change in progress.changes), default=0)
    return days < LEAST_DAYS or progress.span_days < LEAST_SPAN_DAYS


def change_sentence(change: Change, *, reader: Reader) -> str:
    """Return what became of one measure."""
    words = (_BETTER if change.is_better else _WORSE) if change.is_clear else _SAME
    values = {name: measured(change.measure, getattr(change, name)) for name in ("first", "last", "typical")}
    share = _percent(abs(change.last / change.first - 1.0)) if change.first > 0.0 else values["last"]
    return words[change.measure].to(reader).format(share=share, **values)


def fault_sentence(fault: FaultThen, *, reader: Reader) -> str:
    """Return that the most frequent fault of the earlier half became rarer; empty where it did not."""
    if fault.after > fault.before * (1.0 - _LESS):
        return ""
    shares = {"before": _percent(fault.before), "after": _percent(fault.after)}
    return _FAULT_LESS[fault.fault].to(reader).format(**shares)


def span(days: int) -> str:
    """Return a span of days in words: days up to two weeks, weeks from there on."""
    if days < 14:
        return ngettext("{n} day", "{n} days", days).format(n=days)
    weeks = round(days / 7)
    return ngettext("{n} week", "{n} weeks", weeks).format(n=weeks)


def measured(measure: Measure, value: float) -> str:
    """Return the value of a measure with its unit."""
    return figures(f"{value:.1f}\u00a0dB") if measure == "level_swing_db" else _percent(value)


def _percent(share: float) -> str:
    return f"{100 * share:.0f}\u00a0%"
