"""The look: how does Colophony show what the string did, on a page, on paper and in a plot?

One source of colours, type and space (`tokens`), the signs of the tone states (`signs`), the picture of a
take (`draw`), the bowing place (`bowing`), the style sheet (`stylesheet`) and the components (`templates`).
May import `listening` and `teaching` values; knows no request, no database and no file of a student.
"""

from colophony.app.look.signs import SIGNS, Sign, sign_svg
from colophony.app.look.stylesheet import FONTS_DIR, STATIC_DIR, stylesheet
from colophony.app.look.templates import environment
from colophony.app.look.tokens import DARK, INK, LIGHT, Theme, colour

__all__ = [
    "DARK",
    "FONTS_DIR",
    "INK",
    "LIGHT",
    "SIGNS",
    "STATIC_DIR",
    "Sign",
    "Theme",
    "colour",
    "environment",
    "sign_svg",
    "stylesheet",
]
