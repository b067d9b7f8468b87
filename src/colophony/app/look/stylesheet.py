"""The style sheet: fonts, the tokens of both themes, then the rules of ``look.css``."""

from __future__ import annotations

import base64
from pathlib import Path

from colophony.app.look.tokens import (
    DARK,
    INK,
    LIGHT,
    TEXT_FAMILY,
    VOICE_FAMILY,
    custom_properties,
    scale_properties,
)
from colophony.listening.take import ToneState

#: Files that a studio may serve as they are: ``look.css`` is built, see `stylesheet`.
STATIC_DIR = Path(__file__).parent / "static"
FONTS_DIR = Path(__file__).parent / "fonts"

#: Family, weight, style, and the file's name without its ending (.woff2 for screens, .ttf for paper).
FACES = (
    (VOICE_FAMILY, 600, "normal", "Piazzolla-SemiBold"),
    (TEXT_FAMILY, 400, "normal", "AlegreyaSans-Regular"),
    (TEXT_FAMILY, 400, "italic", "AlegreyaSans-Italic"),
    (TEXT_FAMILY, 700, "normal", "AlegreyaSans-Bold"),
)


def _font_faces(fonts: str | None) -> str:
    rules = []
    for family, weight, style, stem in FACES:
        if fonts is None:
            data = base64.b64encode((FONTS_DIR / f"{stem}.woff2").read_bytes()).decode("ascii")
            source = f"data:font/woff2;base64,{data}"
        else:
            source = f"{fonts.rstrip('/')}/{stem}.woff2"
        rules.append(
            f'@font-face {{ font-family: "{family}"; font-weight: {weight}; font-style: {style}; '
            f'font-display: swap; src: url("{source}") format("woff2"); }}'
        )
    return "\n".join(rules)


def stylesheet(*, fonts: str | None) -> str:
    """Return the whole style sheet.

    ``fonts`` is the address of the folder of font files (``"/static/fonts"``), or ``None`` to carry them
    inside, for a page that must work alone.
    """
    states = "\n".join(
        f".state-{s.value} {{ --state: var(--{s.value}); color: var(--{s.value}); }}" for s in ToneState
    )
    light, dark, ink = (custom_properties(theme) for theme in (LIGHT, DARK, INK))
    return "\n".join(
        (
            _font_faces(fonts),
            f":root {{ color-scheme: light dark;\n{scale_properties()}\n}}",
            f':root, [data-theme="light"] {{ {light} }}',
            f'@media (prefers-color-scheme: dark) {{ :root:not([data-theme="light"]) {{ {dark} }} }}',
            f'[data-theme="dark"] {{ color-scheme: dark; {dark} }}',
            f'[data-theme="light"] {{ color-scheme: light; {light} }}',
            # Twice, because paper must win over a theme chosen on the page.
            f"@media print {{ :root:root, :root [data-theme] {{ color-scheme: light; {ink} }} }}",
            states,
            (STATIC_DIR / "look.css").read_text(encoding="utf-8"),
        )
    )
