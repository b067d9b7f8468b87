"""In which language is the reader spoken to? Messages by gettext, figures with the language's decimal mark.

May import nothing of Colophony. English stands in the source; every other language has a catalogue in
``locale/``. `_` says a message in the language of the moment, `N_` marks one that is said later. A message is
whole and fixed; what varies goes in by name afterwards::

    _("The bow runs {distance} from the bridge.").format(distance=...)

The language is held per context: a request, a thread and a test may each speak another (`speaking`).
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from types import MappingProxyType

#: The language of the source, and all that are spoken, each by its own name.
SOURCE = "en"
LANGUAGES: Mapping[str, str] = MappingProxyType({"en": "English", "de": "Deutsch"})
DOMAIN = "colophony"
LOCALE_DIR = Path(__file__).parent / "locale"

#: Decimal marks that are no full stop (Unicode CLDR).
_DECIMAL_MARKS: Mapping[str, str] = MappingProxyType({"de": ","})

_spoken: ContextVar[str] = ContextVar("colophony_language", default=SOURCE)


def language() -> str:
    """Return the language of the moment, a key of `LANGUAGES`."""
    return _spoken.get()


def speak(name: str) -> None:
    """Speak a language from here on in this context; raises `KeyError` for one that is not in `LANGUAGES`."""
    _spoken.set(_known(name))


@contextmanager
def speaking(name: str) -> Iterator[None]:
    """Speak a language within a ``with`` block; raises as `speak`."""
    before = _spoken.set(_known(name))
    try:
        yield
    finally:
        _spoken.reset(before)


def language_of(tags: str) -> str:
    """Return the first known language of tags (``de_AT.UTF-8``, ``fr, de;q=0.8``), else English."""
    for tag in tags.replace(":", ",").split(","):
        name = tag.split(";")[0].strip().replace("_", "-").split("-")[0].split(".")[0].lower()
        if name in LANGUAGES:
            return name
    return SOURCE


def _(message: str) -> str:
    """Return a message in the language of the moment; as it stands where the catalogue lacks it."""
    return _catalogue(language()).gettext(message) if message else message


def N_(message: str) -> str:  # noqa: N802 (its usual name)
    """Mark a message that is said later through `_`, and return it as it is."""
    return message


def ngettext(one: str, many: str, count: int) -> str:
    """Return the message for a number of things, in the language of the moment."""
    return _catalogue(language()).ngettext(one, many, count)


def pgettext(context: str, message: str) -> str:
    """Return a message whose meaning needs a context ("note" of music or of paper)."""
    return _catalogue(language()).pgettext(context, message)


def figures(text: str) -> str:
    """Return written figures with the decimal mark of the language: ``3.5`` is ``3,5`` in German."""
    return text.replace(".", _DECIMAL_MARKS.get(language(), "."))


def note_name(name: str) -> str:
    """Return a note as the language's players call it: ``F#4``, ``B4``, ``Bb4`` are Fis4, H4, B4 in German.

    The octave stays that of scientific pitch notation. Common practice, no source.
    """
    if language() != "de" or not name:
        return name
    letter, rest = name[0].upper(), name[1:]
    if rest[:1] in ("b", "♭"):
        flat = {"B": "B", "E": "Es", "A": "As"}.get(letter, f"{letter}es")
        return flat + rest[1:]
    letter = "H" if letter == "B" else letter
    return letter + (f"is{rest[1:]}" if rest[:1] in ("#", "♯") else rest)


def _known(name: str) -> str:
    if name not in LANGUAGES:
        raise KeyError(name)
    return name


@cache
def _catalogue(name: str) -> gettext.NullTranslations:
    if name == SOURCE:
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, LOCALE_DIR, [name], fallback=True)
