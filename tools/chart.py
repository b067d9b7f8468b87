"""Small charts as SVG text, without a library: panels with axes, points of several shapes, lines, a key."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

from colophony.app.look.tokens import DARK, INK, ROLES

Point = tuple[float, float]
_FONT = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"
#: Where the reader prefers dark, every colour becomes that of the dark theme with the same role.
_PAIRS = {getattr(INK, role): getattr(DARK, role) for role in reversed(ROLES)} | {
    INK.states[state]: DARK.states[state] for state in INK.states
}
_DARK_STYLE = "<style>@media (prefers-color-scheme: dark) {{ {} }}</style>".format(
    " ".join(
        f'[{part}="{light}"] {{ {part}: {dark}; }}'
        for light, dark in _PAIRS.items()
        for part in ("fill", "stroke")
    )
)
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 14.0, 26.0, 40.0


@dataclass(frozen=True)
class Axis:
    """One axis: its label, its ends, where it has marks, and whether it is logarithmic."""

    label: str
    low: float
    high: float
    marks: Sequence[float]
    log: bool = False

    def at(self, value: float) -> float:
        """Place of a value, 0 at the low end to 1 at the high end."""
        if self.log:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


@dataclass
class Panel:
    """One plane with its axes; what is drawn on it is added in order."""

    title: str
    x: Axis
    y: Axis
    width: float = 300.0
    height: float = 230.0
    _drawn: list[str] = field(default_factory=list)

    def place(self, point: Point) -> Point:
        """Drawing units of a point."""
        x = _LEFT + self.x.at(point[0]) * (self.width - _LEFT - _RIGHT)
        y = self.height - _BOTTOM - self.y.at(point[1]) * (self.height - _TOP - _BOTTOM)
        return x, y

    def line(self, points: Sequence[Point], colour: str, *, width: float = 1.6, dash: str = "") -> None:
        """Draw a line through points; what lies outside is cut off at the frame."""
        placed = [self.place(p) for p in points]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in placed)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._drawn.append(
            f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width}"{dashed} '
            'clip-path="url(#c)"/>'
        )

    def points(self, points: Sequence[Point], shape: str, colour: str, *, size: float = 2.6) -> None:
        """Draw points of one shape: "dot", "ring", "cross", "bar", "square" or "speck"."""
        path = "".join(shape_path(shape, *self.place(p), size) for p in points)
        if path:
            fill = colour if shape in ("dot", "square", "speck") else "none"
            self._drawn.append(f'<path d="{path}" fill="{fill}" stroke="{colour}" stroke-width="1"/>')

    def svg(self) -> str:
        """Frame, marks, what was drawn, labels."""
        right, bottom = self.width - _RIGHT, self.height - _BOTTOM
        parts = [f'<clipPath id="c"><path d="M{_LEFT} {_TOP}H{right}V{bottom}H{_LEFT}Z"/></clipPath>']
        for axis, upright in ((self.x, False), (self.y, True)):
            for mark in axis.marks:
                text = escape(f"{mark:g}".replace("-", "\u2212"))
                if upright:
                    y = self.place((self.x.low, mark))[1]
                    parts.append(
                        f'<path d="M{_LEFT} {y:.1f}H{right}" stroke="{INK.line}" stroke-width="0.6"/>'
                    )
                    parts.append(_text(_LEFT - 5, y + 3.5, text, anchor="end"))
                else:
                    x = self.place((mark, self.y.low))[0]
                    parts.append(
                        f'<path d="M{x:.1f} {_TOP}V{bottom}" stroke="{INK.line}" stroke-width="0.6"/>'
                    )
                    parts.append(_text(x, bottom + 14, text, anchor="middle"))
        parts += self._drawn
        parts.append(f'<path d="M{_LEFT} {_TOP}H{right}V{bottom}H{_LEFT}Z" fill="none" stroke="{INK.edge}"/>')
        parts.append(_text(_LEFT, _TOP - 9, self.title, weight=600))
        parts.append(_text((_LEFT + right) / 2, bottom + 31, self.x.label, anchor="middle"))
        middle = (_TOP + bottom) / 2
        label = _text(13, middle, self.y.label, anchor="middle")
        parts.append(f'<g transform="rotate(-90 13 {middle:.1f})">{label}</g>')
        return "".join(parts)


def shape_path(shape: str, x: float, y: float, size: float) -> str:
    """Path data of one point."""
    r = size if shape != "speck" else 0.6
    if shape in ("dot", "ring", "speck"):
        return f"M{x - r:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0"
    if shape == "cross":
        return f"M{x - r:.1f} {y - r:.1f}l{2 * r} {2 * r}m0 {-2 * r}l{-2 * r} {2 * r}"
    if shape == "bar":
        return f"M{x - r:.1f} {y - 1.2:.1f}h{2 * r}m0 2.4h{-2 * r}"
    return f"M{x - r:.1f} {y - r:.1f}h{2 * r}v{2 * r}h{-2 * r}z"


_DASHES = {"line": "", "dashes": ' stroke-dasharray="5 3"', "dots": ' stroke-dasharray="1.5 2.5"'}
#: A key's entry: a shape or "line", "dashes" or "dots", colour, words.
Entry = tuple[str, str, str]


def chart(panels: Sequence[Panel], key: Sequence[Entry], *, across: int, title: str) -> str:
    """Return an SVG file of panels side by side, ``across`` in a row, and a key below."""
    width, height = panels[0].width, panels[0].height
    rows = math.ceil(len(panels) / across)
    per_row = max(1, int(width * across // 230))
    tall = rows * height + 20 * math.ceil(len(key) / per_row) + 8
    wide = width * across
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {tall:g}" width="{wide:g}" '
        f'height="{tall:g}" font-family="{escape(_FONT)}" font-size="11" fill="{INK.ink}">',
        f"<title>{escape(title)}</title>",
        _DARK_STYLE,
        f'<path d="M0 0H{wide:g}V{tall:g}H0Z" fill="{INK.paper}"/>',
    ]
    for number, panel in enumerate(panels):
        x, y = number % across * width, number // across * height
        body = panel.svg().replace('id="c"', f'id="c{number}"').replace("url(#c)", f"url(#c{number})")
        parts.append(f'<g transform="translate({x:g} {y:g})">{body}</g>')
    for number, (shape, colour, words) in enumerate(key):
        x = 52 + number % per_row * (wide - 52) / per_row
        y = rows * height + 10 + 20 * (number // per_row)
        if shape in _DASHES:
            dash = _DASHES[shape]
            parts.append(f'<path d="M{x - 10:.1f} {y}h20" stroke="{colour}" stroke-width="1.8"{dash}/>')
        else:
            fill = colour if shape in ("dot", "square", "speck") else "none"
            parts.append(f'<path d="{shape_path(shape, x, y, 3.0)}" fill="{fill}" stroke="{colour}"/>')
        parts.append(_text(x + 15, y + 3.8, words))
    return "\n".join([*parts, "</svg>"]) + "\n"


def _text(x: float, y: float, words: str, *, anchor: str = "start", weight: int = 400) -> str:
    bold = f' font-weight="{weight}"' if weight != 400 else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{bold}>{escape(words)}</text>'
