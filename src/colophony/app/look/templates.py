"""The template environment that pages, findings files and the gallery share.

Everything is escaped unless a template says otherwise; an undefined name is an error, not a blank.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES_DIR = Path(__file__).parent / "templates"


def environment(*folders: Path | str) -> Environment:
    """Return a new Jinja2 environment over ``folders`` and, behind them, the look's own templates.

    A folder's own template wins over one of the look with the same name. Globals: ``sign``
    (`signs.sign_svg`), ``signs`` (`signs.SIGNS`), ``ToneState``, ``take_picture``, ``bowing_place`` and
    ``advice_picture``; filters ``seconds``, ``clock``, ``cents``, ``decibels``, ``note``, ``percent``,
    ``day``.
    A template speaks the language of the moment: ``_``, ``ngettext``, ``pgettext`` and ``{% trans %}``, with
    ``%(name)s`` for what varies; ``language()`` is its name.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    from colophony.app.look import bowing, draw, figures, signs
    from colophony.language import LANGUAGES, _, language, ngettext, pgettext
    from colophony.listening.take import ToneState
    from colophony.teaching import telling

    search: Sequence[Path | str] = (*folders, TEMPLATES_DIR)
    made = Environment(
        loader=FileSystemLoader([str(folder) for folder in search]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    made.policies["ext.i18n.trimmed"] = True
    made.install_gettext_callables(_, ngettext, newstyle=True, pgettext=pgettext)  # type: ignore[attr-defined]
    made.policies["ext.i18n.trimmed"] = True
    made.globals.update(
        sign_svg=signs.sign_svg,
        SIGNS=signs.SIGNS,
        LANGUAGES=LANGUAGES,
        language=language,
        states_in_turn=telling.states_in_turn,
        ToneState=ToneState,
        take_picture=draw.take_picture,
        bowing_place=bowing.bowing_place,
        advice_picture=bowing.advice_picture,
    )
    made.filters.update(figures.FILTERS)
    return made
