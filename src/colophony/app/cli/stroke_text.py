"""A simulated stroke as text for a terminal: a sentence first, then what was bowed and the few figures."""

from __future__ import annotations

from typing import TextIO

from rich.console import Console
from rich.text import Text

from colophony.app import bow
from colophony.app.cli.table import SIGNS
from colophony.app.look.tokens import HUE, OKABE_ITO_2008
from colophony.listening.take import ToneState
from colophony.teaching.findings import Reader
from colophony.teaching.wording.bowed import CHOKED, S_MOTION

#: As `table.SIGNS`: one tooth a period that bends as it rises; a string that does not move.
OWN_SIGNS = {S_MOTION: "/~/~", CHOKED: "____"}


def print_stroke(bowed: bow.Bowed, *, reader: Reader, stream: TextIO) -> None:
    """Write what the string did to ``stream``, as wide as its terminal, plain where it is none."""
    console = Console(file=stream, highlight=False, emoji=False, markup=False)
    state = bowed.told_state
    own = state in OWN_SIGNS
    sign = OWN_SIGNS[state] if own else SIGNS[ToneState(state)]
    style = "" if own else OKABE_ITO_2008.get(HUE[ToneState(state)] or "", "")
    console.print(Text.assemble((f"{sign}  {bowed.word}", style), "  ", (bowed.says(reader), "bold")))
    console.print(bowed.means(reader))
    console.print(f"{bow.describe_string(bowed)}. {bow.describe_bow(bowed)}.", style="dim")
    figures = bow.short_figures(bowed)
    width = max(len(name) for name, _ in figures)
    for name, value in figures:
        console.print(f"  {name:<{width}}  {value}")
