"""Small drawings of how a strip is held, and the trade's signs for down-bow and up-bow."""

from __future__ import annotations

from colophony.app.look.pen import Pen
from colophony.app.look.tokens import INK

_PEN = Pen(INK)


def _svg(width: int, height: int, *parts: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" stroke-linecap="round" stroke-linejoin="round">{"".join(parts)}</svg>'
    )


def side_view(*, turned: bool = False) -> str:
    """Return the strip under the strings, from the side; the bridge on the right, on a cello on the left."""
    ink, rosin, quiet = INK.ink, INK.rosin, INK.quiet
    parts = "".join(
        (
            _PEN.path("M4 86Q130 66 316 84", quiet, 2.0),  # the top
            _PEN.area("M0 50L178 46L178 56L0 62Z", INK.board),  # the fingerboard
            _PEN.path("M0 43L272 22L316 44", ink, 1.6),  # the string
            _PEN.area("M262 82L270 22L275 22L284 82Z", rosin),  # the bridge
            _PEN.path("M84 45.6L178 43L265 40", rosin, 4.0),  # the strip
            _PEN.path("M222 6V20", ink, 2.6),
            _PEN.area("M212 4H232V20H212Z", ink),  # the hair, seen from its end
        )
    )
    return _svg(320, 96, f'<g transform="matrix(-1 0 0 1 320 0)">{parts}</g>' if turned else parts)


def roof_view() -> str:
    """Return the strip on the stick: along the bow, and in section."""
    ink, rosin, quiet = INK.ink, INK.rosin, INK.quiet
    marks = "".join(_PEN.path(f"M{x} 20V33", INK.ground, 1.4) for x in (78, 124, 170))
    return _svg(
        320,
        96,
        _PEN.path("M24 30Q130 24 244 22L250 56", ink, 3.0),  # stick and head
        _PEN.path("M36 60L249 56", quiet, 2.4),  # hair
        _PEN.area("M22 32H48V62H22Z", INK.board),  # frog
        _PEN.path("M48 26.5Q130 24 236 22", rosin, 10.0),  # the strip
        marks,
        _PEN.path("M66 17V36M218 15V31", ink, 1.6),  # the thread
        f'<circle cx="292" cy="44" r="9" fill="none" stroke="{ink}" stroke-width="3"/>',
        _PEN.path("M274 66L292 30L310 66", rosin, 3.4),
    )
