"""The place where the bow meets the string, as the player sees it, and small drawings of each advice.

On violin and viola the player looks along the strings from the tailpiece: bridge below, fingerboard above,
lowest string on the left. A cellist looks down from the scroll's side: the drawing is turned by half.
Sounding points are counted as the trade counts them (common practice, no source): 1 at the bridge, 5 at the
end of the fingerboard.
"""

from __future__ import annotations

from markupsafe import Markup

from colophony.app.look.signs import number
from colophony.app.look.tokens import TEXT_FAMILY, Theme, colour
from colophony.language import N_, _, figures
from colophony.listening.take import Instrument
from colophony.teaching.findings import Turn, Variable

_TOP, _BOTTOM = 62.0, 214.0  # ends of the bowable length: fingerboard's end, bridge
_NAMES: dict[Instrument, str] = {"violin": "GDAE", "viola": "CGDA", "cello": "CGDA"}


def _paint(name: str, theme: Theme | None) -> str:
    return "currentColor" if theme is None else colour(theme, name)


def _mark(kind: str, role: str, theme: Theme | None, attributes: str, *, fill: bool = False) -> str:
    paint = _paint(role, theme)
    painted = f'fill="{paint}"' if fill else f'fill="none" stroke="{paint}"'
    return f'<{kind} class="c-{role}" {painted} {attributes}/>'


def _svg(box: str, label: str, inner: str, theme: Theme | None, *, width: float, height: float) -> Markup:
    family = "" if theme is None else f' font-family="{TEXT_FAMILY}"'
    spoken = Markup('role="img" aria-label="{}"').format(label) if label else 'aria-hidden="true"'
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="{box}" width="{number(width)}" '
        f'height="{number(height)}" {spoken} focusable="false"{family} stroke-linecap="round" '
        f'stroke-linejoin="round">{inner}</svg>'
    )


def place_height(sounding_point: float, *, turned: bool = False) -> float:
    """Height in the drawing of a sounding point, 0.5 (at the bridge) to 5.5 (at the fingerboard's end)."""
    share = (min(max(sounding_point, 0.5), 5.5) - 0.5) / 5.0
    height = _BOTTOM - share * (_BOTTOM - _TOP)
    return 276.0 - height if turned else height


def _bow(y: float, role: str, theme: Theme | None, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="5 6"' if dashed else ""
    hair = _mark("path", role, theme, f'd="M14 {number(y)}H206" stroke-width="{3 if dashed else 6}"{dash}')
    if dashed:
        return hair
    return hair + _mark("path", role, theme, f'd="M14 {number(y - 7)}H206" stroke-width="2"')


def bowing_place(
    now: float,
    *,
    aim: float | None = None,
    instrument: Instrument = "violin",
    theme: Theme | None = None,
    width: float = 220.0,
) -> Markup:
    """Return the bowing place with the bow at sounding point ``now`` and, dashed, where it should go.

    ``now`` and ``aim`` are sounding points, 1 at the bridge to 5 at the fingerboard's end; fractions are
    allowed, values outside 0.5 to 5.5 are drawn at the end of the bowable length.
    """
    turned = instrument == "cello"
    half = ' transform="rotate(180 110 138)"' if turned else ""
    xs = (80.0, 100.0, 120.0, 140.0)
    wood = _mark("path", "board", theme, 'd="M71 8H149L154 58Q110 66 66 58Z"', fill=True)
    bridge = _mark("path", "rosin", theme, 'd="M58 218Q110 206 162 218" stroke-width="7"')
    strings = "".join(
        _mark(
            "path",
            "edge",
            theme,
            f'd="M{number(x)} 60L{number(110 + (x - 110) * 1.22)} 262" stroke-width="{2.6 - 0.45 * k:.2f}"',
        )
        for k, x in enumerate(xs)
    )
    ticks, words = [], []
    for point in range(1, 6):
        y = place_height(point, turned=turned)
        ticks.append(_mark("path", "line", theme, f'd="M50 {number(y)}H172" stroke-width="1"'))
        words.append(_word(str(point), 218.0, y + 6.0, "quiet", theme))
    for k, name in enumerate(_NAMES[instrument]):
        x = 110 + (xs[k] - 110) * 1.22
        words.append(
            _word(name, 220.0 - x if turned else x, 3.0 if turned else 284.0, "quiet", theme, middle=True)
        )
    body = f"<g{half}>{wood}{strings}{bridge}</g>{''.join(ticks)}"
    y_now = place_height(now, turned=turned)
    drawn = body + _bow(y_now, "ink", theme)
    label = _(
        "The bow at sounding point {now}, where 1 is at the bridge and 5 at the end of the fingerboard."
    )
    if aim is not None:
        y_aim = place_height(aim, turned=turned)
        drawn += _bow(y_aim, "rosin", theme, dashed=True) + _arrow(190.0, y_now, y_aim, theme)
        label = _(
            "The bow at sounding point {now}, where 1 is at the bridge and 5 at the end of the fingerboard; "
            "it should go to {aim}."
        )
    label = label.format(now=figures(f"{now:g}"), aim=figures(f"{aim or 0.0:g}"))
    return _svg("0 -12 228 302", label, drawn + "".join(words), theme, width=width, height=width * 302 / 228)


def _word(text: str, x: float, y: float, role: str, theme: Theme | None, *, middle: bool = False) -> str:
    anchor = ' text-anchor="middle"' if middle else ""
    place = f'x="{number(x)}" y="{number(y)}" font-size="16" fill="{_paint(role, theme)}"{anchor}'
    return f'<text class="c-{role}" {place}>{text}</text>'


def _arrow(x: float, start: float, end: float, theme: Theme | None) -> str:
    """An upright arrow; none where there is hardly a way to go."""
    if abs(end - start) < 8:
        return ""
    way = 1.0 if end > start else -1.0
    tip = end - 4 * way
    return _mark(
        "path",
        "rosin",
        theme,
        f'd="M{number(x)} {number(start + 8 * way)}V{number(tip)}M{number(x - 6)} {number(tip - 8 * way)}'
        f'L{number(x)} {number(tip)}L{number(x + 6)} {number(tip - 8 * way)}" stroke-width="2.6"',
    )


#: What an advice's drawing shows, for those who hear the page; said through the catalogue.
ADVICE_WORDS: dict[tuple[Variable, Turn], str] = {
    ("distance", "nearer"): N_("Bow nearer to the bridge"),
    ("distance", "farther"): N_("Bow farther from the bridge"),
    ("weight", "more"): N_("More weight on the string"),
    ("weight", "less"): N_("Less weight on the string"),
    ("speed", "more"): N_("A faster bow"),
    ("speed", "less"): N_("A slower bow"),
    ("tilt", "flatter"): N_("Flatter hair"),
    ("tilt", "steeper"): N_("Steeper hair"),
}


def _distance(turn: Turn, theme: Theme | None) -> str:
    old, new = (44.0, 66.0) if turn == "nearer" else (62.0, 38.0)
    return (
        _mark("path", "board", theme, 'd="M40 4H72L74 24Q56 28 38 24Z"', fill=True)
        + "".join(
            _mark("path", "edge", theme, f'd="M{x} 24V88" stroke-width="1.4"') for x in (46, 53, 59, 66)
        )
        + _mark("path", "rosin", theme, 'd="M36 80Q56 74 76 80" stroke-width="5"')
        + _mark("path", "quiet", theme, f'd="M14 {old}H98" stroke-width="2" stroke-dasharray="3 5"')
        + _mark("path", "ink", theme, f'd="M14 {new}H98" stroke-width="4.6"')
        + _small_arrow(90, old, new, theme)
    )


def _small_arrow(x: float, start: float, end: float, theme: Theme | None) -> str:
    way = 1.0 if end > start else -1.0
    tip = end - 5 * way
    return _mark(
        "path",
        "rosin",
        theme,
        f'd="M{x} {start + 4 * way}V{tip}M{x - 5} {tip - 6 * way}L{x} {tip}L{x + 5} {tip - 6 * way}" '
        'stroke-width="2.4"',
    )


def _weight(turn: Turn, theme: Theme | None) -> str:
    """The string from the side, bent by the hair; how deep says how much weight."""
    old, new = (48.0, 68.0) if turn == "more" else (68.0, 48.0)
    return (
        _mark("path", "quiet", theme, f'd="M6 42L56 {old}L106 42" stroke-width="1.6" stroke-dasharray="3 5"')
        + _mark("path", "ink", theme, f'd="M6 42L56 {new}L106 42" stroke-width="2.6"')
        + _mark("path", "ink", theme, f'd="M46 {new - 5}H66" stroke-width="7"')
        + _mark("circle", "ink", theme, f'cx="56" cy="{new - 18}" r="5"', fill=True)
        + _small_arrow(56, *((6.0, 44.0) if turn == "more" else (88.0, 64.0)), theme)
    )


def _speed(turn: Turn, theme: Theme | None) -> str:
    """Where the bow is after equal times: close marks are slow, wide marks fast."""
    old, new = (8, 20) if turn == "more" else (20, 8)
    marks_old = "".join(f"M{8 + k * old} 24V36" for k in range(6))
    marks_new = "".join(f"M{8 + k * new} 52V72" for k in range(6))
    x_old, x_new = 8 + 5 * old, 8 + 5 * new
    return (
        _mark("path", "quiet", theme, f'd="{marks_old}" stroke-width="1.6"')
        + _mark("path", "quiet", theme, f'd="M8 30H{x_old}" stroke-width="1.6" stroke-dasharray="3 4"')
        + _mark("path", "ink", theme, f'd="{marks_new}" stroke-width="2.2"')
        + _mark("path", "ink", theme, f'd="M8 62H{x_new}" stroke-width="4.6"')
        + _mark("path", "rosin", theme, f'd="M{x_new - 7} 55L{x_new} 62L{x_new - 7} 69" stroke-width="2.6"')
    )


def _tilt(turn: Turn, theme: Theme | None) -> str:
    """Stick and hair seen from the bow's end on the string: upright for flat hair, leaning for tilted."""
    old, new = (-38, 0) if turn == "flatter" else (0, -38)

    def section(angle: int, role: str, thick: float, dash: str) -> str:
        return (
            f'<g transform="rotate({angle} 56 66)">'
            + _mark("path", role, theme, f'd="M40 64H72" stroke-width="{thick}"{dash}')
            + _mark("circle", role, theme, f'cx="56" cy="30" r="9" stroke-width="{min(thick, 2.4)}"{dash}')
            + _mark("path", role, theme, f'd="M40 64L49 34M72 64L63 34" stroke-width="1.2"{dash}')
            + "</g>"
        )

    return (
        section(old, "quiet", 1.8, ' stroke-dasharray="3 4"')
        + section(new, "ink", 5.0, "")
        + _mark("path", "rosin", theme, 'd="M10 72H102" stroke-width="3"')
    )


def advice_picture(
    change: Variable, direction: Turn, *, theme: Theme | None = None, width: float = 112.0
) -> Markup:
    """Return a small drawing of one advice: as it was, dashed; as it should be, in full ink.

    Raises `KeyError` for a pair that is no advice, such as tilt and nearer.
    """
    label = _(ADVICE_WORDS[change, direction])
    draw = {"distance": _distance, "weight": _weight, "speed": _speed, "tilt": _tilt}[change]
    return _svg("0 0 112 92", label, draw(direction, theme), theme, width=width, height=width * 92 / 112)
