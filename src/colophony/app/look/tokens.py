"""Colours, type and space: the one source from which page, drawing and paper read.

The hues of the tone states are those of Okabe and Ito (2008), "Color Universal Design", which people with
any common kind of colour vision can tell apart; lightness was moved, hue kept, until each state's colour
reads as text (WCAG 2.2, success criterion 1.4.3: 4.5 to 1) on every ground of its theme. Two states take
no hue on purpose: *steady*, because the take alone says no more, and *unsure*.

The ground is the pale wood of a spruce top, the ink that of a fingerboard, the dark theme that of a
varnished back; the one ornament colour is rosin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from colophony.listening.take import ToneState

#: The palette as published: Okabe, M. and Ito, K. (2008), "Color Universal Design (CUD)", figure 16.
OKABE_ITO_2008: Mapping[str, str] = MappingProxyType(
    {
        "black": "#000000",
        "orange": "#e69f00",
        "sky blue": "#56b4e9",
        "bluish green": "#009e73",
        "yellow": "#f0e442",
        "blue": "#0072b2",
        "vermillion": "#d55e00",
        "reddish purple": "#cc79a7",
    }
)

#: Which published hue a tone state takes; ``None`` for the two that stay in ink.
HUE: Mapping[ToneState, str | None] = MappingProxyType(
    {
        ToneState.HELMHOLTZ: "blue",
        ToneState.MULTIPLE_SLIP: "bluish green",
        ToneState.RAUCOUS: "vermillion",
        ToneState.LOW_ANOMALOUS: "reddish purple",
        ToneState.NOISE: "sky blue",
        ToneState.PLUCKED: "orange",
        ToneState.STEADY: None,
        ToneState.UNSURE: None,
    }
)


#: The colours of a theme that are no tone state's.
ROLES = ("ground", "paper", "wood", "ink", "quiet", "line", "edge", "rosin", "board")


@dataclass(frozen=True, slots=True)
class Theme:
    """Every colour of one theme, as ``#rrggbb``.

    ``wood`` is the ground of asides, ``edge`` of controls, ``board`` the fingerboard.
    """

    name: str
    ground: str
    paper: str
    wood: str
    ink: str
    quiet: str
    line: str
    edge: str
    rosin: str
    board: str
    states: Mapping[ToneState, str]

    @property
    def grounds(self) -> tuple[str, ...]:
        """The colours that text may stand on."""
        return (self.ground, self.paper, self.wood)


LIGHT = Theme(
    name="light",
    ground="#fbf8f1",
    paper="#ffffff",
    wood="#f2eadc",
    ink="#241b17",
    quiet="#675b52",
    line="#dccfbc",
    edge="#85766a",
    rosin="#b5651d",
    board="#241b17",
    states=MappingProxyType(
        {
            ToneState.HELMHOLTZ: "#03598c",
            ToneState.MULTIPLE_SLIP: "#047756",
            ToneState.RAUCOUS: "#ae4b00",
            ToneState.LOW_ANOMALOUS: "#9d4e7b",
            ToneState.NOISE: "#03709e",
            ToneState.PLUCKED: "#8d6001",
            ToneState.STEADY: "#3b302a",
            ToneState.UNSURE: "#675b52",
        }
    ),
)

DARK = Theme(
    name="dark",
    ground="#191412",
    paper="#231c18",
    wood="#2c231e",
    ink="#f3eadf",
    quiet="#b9aa9b",
    line="#4a3d35",
    edge="#94846f",
    rosin="#e0a04a",
    board="#857160",
    states=MappingProxyType(
        {
            ToneState.HELMHOLTZ: "#4ea3e2",
            ToneState.MULTIPLE_SLIP: "#16ab7e",
            ToneState.RAUCOUS: "#f37931",
            ToneState.LOW_ANOMALOUS: "#d383b0",
            ToneState.NOISE: "#7fcefb",
            ToneState.PLUCKED: "#f5b43c",
            ToneState.STEADY: "#e4d8ca",
            ToneState.UNSURE: "#b9aa9b",
        }
    ),
)

#: Paper: the light theme's states on white, so that a sheet and a page show one colour each.
INK = Theme(
    name="ink",
    ground="#ffffff",
    paper="#ffffff",
    wood="#ffffff",
    ink="#1a1412",
    quiet="#574c44",
    line="#c9bba8",
    edge="#6f6258",
    rosin="#9a5415",
    board="#1a1412",
    states=LIGHT.states,
)

THEMES: Mapping[str, Theme] = MappingProxyType({theme.name: theme for theme in (LIGHT, DARK, INK)})

#: Families by role; the files lie in ``fonts/``. Piazzolla speaks the sentences, Alegreya Sans the rest.
VOICE_FAMILY = "Piazzolla"
TEXT_FAMILY = "Alegreya Sans"

#: Sizes in rem on the page (1 rem = 16 px unless the reader says otherwise), in a ratio of 5 to 4.
SIZES_REM: Mapping[str, float] = MappingProxyType(
    {"small": 0.95, "text": 1.1875, "lead": 1.45, "title": 1.8, "display": 2.3}
)
#: The same scale on paper, in points.
SIZES_PT: Mapping[str, float] = MappingProxyType(
    {"small": 9.0, "text": 11.0, "lead": 13.5, "title": 17.0, "display": 22.0}
)
#: Space in rem: each step half as much again or double, so that a gap is never nearly another.
SPACES_REM: Mapping[str, float] = MappingProxyType(
    {"hair": 0.25, "near": 0.5, "step": 1.0, "room": 2.0, "hall": 4.0}
)


def colour(theme: Theme, name: str) -> str:
    """Return a colour of a theme by its name, a role such as ``"ink"`` or a tone state's word.

    Raises `KeyError` when the theme has no such colour.
    """
    if name in ROLES:
        value: str = getattr(theme, name)
        return value
    for state, value in theme.states.items():
        if state.value == name:
            return value
    raise KeyError(name)


def custom_properties(theme: Theme) -> str:
    """Return the theme as CSS custom properties, one declaration a line."""
    lines = [f"--{role}: {colour(theme, role)};" for role in ROLES]
    lines += [f"--{state.value}: {theme.states[state]};" for state in ToneState]
    return "\n".join(lines)


def scale_properties() -> str:
    """Return type sizes and spaces as CSS custom properties, one declaration a line."""
    lines = [f"--size-{name}: {rem}rem;" for name, rem in SIZES_REM.items()]
    lines += [f"--space-{name}: {rem}rem;" for name, rem in SPACES_REM.items()]
    lines.append(f'--voice: "{VOICE_FAMILY}", Georgia, serif;')
    lines.append(f'--text: "{TEXT_FAMILY}", "Gill Sans", "Trebuchet MS", sans-serif;')
    return "\n".join(lines)
