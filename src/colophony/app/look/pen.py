"""Marks of a drawing: lines, shades and words in the colours of a theme, or of the page around it."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence

from markupsafe import escape

from colophony.app.look.bowed_signs import bowed_colour, bowed_sign_path, is_heavy
from colophony.app.look.signs import number, path_of
from colophony.app.look.stylesheet import FACES, FONTS_DIR
from colophony.app.look.tokens import VOICE_FAMILY, Theme, colour
from colophony.listening.take import ToneState


class Pen:
    """Draws in a theme; without one in the colours of the page, which names them ``--ink`` and so on."""

    def __init__(self, theme: Theme | None) -> None:
        """Take the theme."""
        self.theme = theme

    def paint(self, name: str) -> str:
        """Return a colour by its role or tone state, for ``fill`` and ``stroke``."""
        return f"var(--{name})" if self.theme is None else colour(self.theme, name)

    def state_paint(self, state: str) -> str:
        """Return the colour of a simulated state; those that no take shows stay in ink."""
        if self.theme is not None:
            return bowed_colour(state, self.theme)
        known = any(tone.value == state for tone in ToneState)
        return f"var(--{state if known else ToneState.STEADY.value})"

    def line(
        self,
        points: Sequence[tuple[float, float]],
        paint: str,
        width: float,
        *,
        dash: str = "",
        opacity: float = 1.0,
    ) -> str:
        """Return a line through points."""
        return self.path(path_of(list(points)), paint, width, dash=dash, opacity=opacity)

    def path(self, data: str, paint: str, width: float, *, dash: str = "", opacity: float = 1.0) -> str:
        """Return a line along path data."""
        extra = f' stroke-dasharray="{dash}"' if dash else ""
        extra += f' stroke-opacity="{opacity:g}"' if opacity < 1 else ""
        return f'<path d="{data}" fill="none" stroke="{paint}" stroke-width="{width:g}"{extra}/>'

    def area(self, data: str, paint: str, *, opacity: float = 1.0) -> str:
        """Return a surface with path data around it."""
        extra = f' fill-opacity="{opacity:g}"' if opacity < 1 else ""
        return f'<path d="{data}" fill="{paint}"{extra}/>'

    def text(
        self,
        words: str,
        x: float,
        y: float,
        *,
        size: float = 17,
        paint: str | None = None,
        anchor: str = "start",
        bold: bool = False,
        voice: bool = False,
        over: bool = False,
    ) -> str:
        """Return a line of words that stands on y; ``over`` clears a little room around each letter."""
        face = f' font-family="{VOICE_FAMILY}, Georgia, serif" font-weight="600"' if voice else ""
        face += ' font-weight="700"' if bold else ""
        if over:
            face += f' paint-order="stroke" stroke="{self.paint("ground")}" stroke-width="3.5"'
            face += ' stroke-opacity="0.75"'
        return (
            f'<text x="{number(x)}" y="{number(y)}" font-size="{size:g}" '
            f'fill="{paint or self.paint("ink")}" text-anchor="{anchor}"{face}>{escape(words)}</text>'
        )

    def sign(self, state: str, x: float, y: float, *, scale: float = 1.0) -> str:
        """Return the sign of a simulated state with its left end at x and its middle at y."""
        thick = (3.2 if is_heavy(state) else 2.0) / max(scale, 0.6) ** 0.5
        return (
            f'<path transform="translate({number(x)} {number(y - 12 * scale)}) scale({scale:g})" '
            f'd="{bowed_sign_path(state)}" fill="none" stroke="{self.state_paint(state)}" '
            f'stroke-width="{thick:.3g}"/>'
        )


def faces() -> str:
    """Return CSS of the upright typefaces, carried inside, with figures of one height and width."""
    rules = []
    for family, weight, style, stem in FACES:
        if style == "normal":
            data = base64.b64encode((FONTS_DIR / f"{stem}.woff2").read_bytes()).decode("ascii")
            rules.append(
                f'@font-face{{font-family:"{family}";font-weight:{weight};'
                f'src:url("data:font/woff2;base64,{data}") format("woff2")}}'
            )
    return "".join(rules) + "text{font-variant-numeric:lining-nums tabular-nums}"


def wrapped(text: str, most: int) -> list[str]:
    """Return a text in lines of at most so many letters, of about equal length."""
    count = math.ceil(len(text) / most)
    lines, room = [""], len(text) / max(count, 1) + 4
    for word in text.split(" "):  # a no-break space holds a figure and its unit together
        if lines[-1] and len(lines[-1]) + 1 + len(word) > (most if len(lines) == count else room):
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def round_step(value: float) -> float:
    """Return the greatest of 1, 2, 5 times a power of ten that is not above a value."""
    power = 10.0 ** math.floor(math.log10(value))
    return max(step for step in (power, 2 * power, 5 * power) if step <= value * (1 + 1e-9))
