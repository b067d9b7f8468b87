"""Marks of a talk's pictures: one width and height, few words, large; colours are classes of the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup, escape
from numpy.typing import NDArray

from colophony.app.look.signs import number, path_of
from colophony.app.look.start_picture import start_sign_path
from colophony.language import N_, _

WIDTH, HEIGHT = 480.0, 190.0
_TEXT = 15.0
_MOST_POINTS = 1500


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """One picture and its motion, as a script needs it; None where nothing moves."""

    picture: Markup
    moving: dict[str, Any] | None = None
    slowed: float | None = None  #: runs so many times slower than the string
    times: float | None = None  #: drawn so many times wider sideways


#: What a start is told as, and the state whose colour it takes: what goes before the string sings.
_STARTS = {
    "clean": (N_("clean at once"), "helmholtz"),
    "creaking": (N_("creaks first"), "raucous"),
    "slipping": (N_("hisses first"), "multiple-slip"),
    "unknown": (N_("unclear"), "unsure"),
}


def start_sign(kind: str, *, size: float = 20.0) -> Markup:
    """Return sign, word and colour of a kind of start, which stand together."""
    word, state = _STARTS[kind]
    return Markup(
        '<span class="state state-{}"><svg class="sign" viewBox="0 0 64 24" width="{}" height="{}" '
        'aria-hidden="true" focusable="false"><path d="{}" fill="none" stroke="currentColor" '
        'stroke-width="2" stroke-linecap="round" stroke-linejoin="round"/></svg> {}</span>'
    ).format(state, number(size * 8 / 3), number(size), start_sign_path(kind), _(word))


def line(data: str, role: str, width: float, *, more: str = "") -> str:
    """Return a line along path data, in the colour of a role."""
    return (
        f'<path class="{role}" d="{data}" fill="none" stroke="currentColor" stroke-width="{width:g}" '
        f'stroke-linejoin="round"{more}/>'
    )


def curve(
    xs: NDArray[Any], ys: NDArray[Any], role: str, width: float, *, dash: str = "", every: int = 0
) -> str:
    """Return a line through points, thinned to `_MOST_POINTS`."""
    every = every or max(1, len(xs) // _MOST_POINTS)
    points = [(float(x), float(y)) for x, y in zip(xs[::every], ys[::every], strict=True)]
    return line(path_of(points), role, width, more=f' stroke-dasharray="{dash}"' if dash else "")


def words(
    text: str,
    x: float,
    y: float,
    *,
    anchor: str = "start",
    role: str = "quiet",
    is_bold: bool = False,
    is_over: bool = False,
) -> str:
    """Return words that stand on y; ``is_over`` clears the ground around their letters."""
    more = ' font-weight="700"' if is_bold else ""
    if is_over:
        more += ' stroke="var(--ground)" stroke-width="5" paint-order="stroke"'
    return (
        f'<text class="c-{"ink" if is_bold else role}" x="{x:.1f}" y="{y:.1f}" font-size="{_TEXT:g}" '
        f'fill="currentColor" text-anchor="{anchor}"{more}>{escape(text)}</text>'
    )


def drawing(kind: str, label: str, inner: str) -> Markup:
    """Return marks as one ``<svg>`` element; ``label`` is the picture in words."""
    return Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="drawing {}" viewBox="0 0 {} {}" role="img" '
        'aria-label="{}" focusable="false" stroke-linecap="round">{}</svg>'
    ).format(kind, number(WIDTH), number(HEIGHT), label, Markup(inner))
