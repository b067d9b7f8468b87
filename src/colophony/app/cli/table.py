"""Findings on a terminal: one row a stroke, then the sentence and the one thing to work on.

Sign, word and colour of a tone state stand together. The signs are drawings of the string's own motion
in plain ASCII, so that a log file, an old console and a screen reader's braille line show them too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TextIO

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from colophony.app import words
from colophony.app.cli.lines import one_line
from colophony.app.look.tokens import HUE, OKABE_ITO_2008
from colophony.app.phrases import either
from colophony.language import N_, _, figures, ngettext, note_name, pgettext
from colophony.listening.take import Onset, Stroke, ToneState
from colophony.teaching import wording
from colophony.teaching.findings import Advice, Findings, Reader
from colophony.teaching.telling import told_state

#: One tooth a period; two uneven teeth; a ragged line; one tooth over two periods; speckle;
#: a decaying ripple; an even wave; a dotted line with a gap.
SIGNS = {
    ToneState.HELMHOLTZ: "/|/|",
    ToneState.MULTIPLE_SLIP: "/|.|",
    ToneState.RAUCOUS: "/\\V'",
    ToneState.LOW_ANOMALOUS: "_-/|",
    ToneState.NOISE: ":.':",
    ToneState.PLUCKED: "|\\~-",
    ToneState.STEADY: "~~~~",
    ToneState.UNSURE: ".. .",
}
#: The words of `colophony.app.look.bowing.ADVICE_WORDS`, short enough for a column.
_TURNS = {
    ("weight", "more"): N_("more weight"),
    ("weight", "less"): N_("less weight"),
    ("distance", "nearer"): N_("nearer the bridge"),
    ("distance", "farther"): N_("farther from the bridge"),
    ("speed", "more"): N_("faster bow"),
    ("speed", "less"): N_("slower bow"),
    ("tilt", "flatter"): N_("flatter hair"),
    ("tilt", "steeper"): N_("steeper hair"),
}
_STARTS = {"creaking": N_("creaking"), "slipping": N_("slipping")}
_WAYS = {"one": ">", "other": "<"}
_ARROWS = N_("> and < are the bow's two ways on a note; --first-bow down (or up) names them.")
UNKNOWN = "-"


def print_findings(findings: Findings, *, reader: Reader, stream: TextIO) -> None:
    """Write the findings of one take to ``stream``, as wide as its terminal, plain where it is none."""
    console = Console(file=stream, highlight=False, emoji=False, markup=False)
    take, summary = findings.take, findings.summary
    console.print(Text(_title(findings), style="bold"))
    if take.strokes:
        console.print(_stroke_table(findings, reader=reader))
        if set(_bows(take.strokes)) & set(_WAYS.values()):
            console.print(_(_ARROWS), style="dim")
    for warning in words.warnings(take, reader=reader):
        console.print(Text(_("Note: {warning}").format(warning=warning)))
    console.print(Text(summary.headline.to(reader), style="bold"))
    if summary.main_advice is not None:
        console.print(_labelled(_("Work on"), summary.main_advice.say.to(reader)))

    console.print(_labelled(_("Check") if summary.main_advice else _("Next"), summary.check.to(reader)))


def _title(findings: Findings) -> str:
    take = findings.take
    count = len(take.strokes)
    return _("{file}: {strokes}, {time}, {instrument}, A4 = {a4} Hz").format(
        file=one_line(take.file),
        strokes=ngettext("{n} stroke", "{n} strokes", count).format(n=count),
        time=_clock(take.duration_s),
        instrument=_(take.instrument) if take.instrument else _("instrument not known"),
        a4=figures(f"{take.a4_hz:.1f}"),
    )


def _stroke_table(findings: Findings, *, reader: Reader) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    table.add_column(_("Time"), justify="right", no_wrap=True)
    table.add_column(pgettext("of music", "Note"), no_wrap=True)
    table.add_column(_("Cents"), justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    table.add_column(_("Tone"), min_width=13, overflow="fold")
    table.add_column(_("Bow"), no_wrap=True)
    table.add_column(_("Start"))
    table.add_column(_("Change"))
    strokes = findings.take.strokes
    for stroke, bow, advice in zip(strokes, _bows(strokes), findings.advice, strict=True):
        state = told_state(stroke)
        style = OKABE_ITO_2008.get(HUE[state] or "", "")
        table.add_row(
            _clock(stroke.start_s),
            note_name(stroke.note) if stroke.note else UNKNOWN,
            UNKNOWN if stroke.cents is None else _signed(stroke.cents),
            Text(SIGNS[state], style=style),
            Text(wording.state_word(state, reader=reader), style=style),
            bow,
            _start(stroke.onset),
            _changes(advice),
        )
    return table


def _clock(seconds: float) -> str:
    if seconds < 60:
        return figures(f"{seconds:.1f} s")
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def _signed(cents: float) -> str:
    return f"{round(cents):+d}" if round(cents) else "0"


def _bows(strokes: Sequence[Stroke]) -> list[str]:
    """Return each stroke's direction, or an arrow where another stroke on the same note can be compared."""
    bowed = Counter(stroke.note for stroke in strokes if stroke.way)
    return [
        (stroke.bow and _(stroke.bow))
        or (_WAYS[stroke.way] if stroke.way and bowed[stroke.note] > 1 else UNKNOWN)
        for stroke in strokes
    ]


def _start(onset: Onset) -> str:
    if onset.grade is None:
        return UNKNOWN
    grade = _(words.GRADES[onset.grade])
    kind = _STARTS.get(onset.kind)
    return _("{grade}, {kind}").format(grade=grade, kind=_(kind)) if kind else grade


def _changes(advice: tuple[Advice, ...]) -> str:
    return either(_(_TURNS[item.change, item.direction]) for item in advice) if advice else ""


def _labelled(label: str, sentence: str) -> Text:
    return Text.assemble((f"{label}: ", "bold"), sentence)
