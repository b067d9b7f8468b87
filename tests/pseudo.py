"""A language that only tests speak: each message of the catalogue stands in ⟦…⟧, all else as it is.

What a page, a sheet or a command says outside the brackets did not pass through the catalogue. A message that
the catalogue lacks is not bracketed either. Use::

    from pseudo import spoken_pseudo, words_outside

    def test_...() -> None:
        with spoken_pseudo():
            text = ...
        assert words_outside(text) == []
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from unittest.mock import patch

from babel.messages.pofile import read_po

from colophony.language import DOMAIN, LOCALE_DIR

OPEN, CLOSE = "⟦", "⟧"
_WORD = re.compile(r"[^\W\d_]{2,}")


class Pseudo(gettext.NullTranslations):
    """Says a message of the catalogue in brackets."""

    def gettext(self, message: str) -> str:
        """Return a message in brackets where the catalogue has it."""
        return self._bracketed((None, message), message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """Return the message for a number, in brackets where the catalogue has it."""
        return self._bracketed((None, msgid1), msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        """Return a message with a context, in brackets where the catalogue has it."""
        return self._bracketed((context, message), message)

    def _bracketed(self, key: tuple[str | None, str], said: str) -> str:
        return f"{OPEN}{said}{CLOSE}" if key in known_messages() else said


@cache
def known_messages() -> frozenset[tuple[str | None, str]]:
    """Return context and text (the singular) of every message in the catalogue."""
    with (LOCALE_DIR / f"{DOMAIN}.pot").open("rb") as file:
        catalogue = read_po(file)
    return frozenset(
        (message.context, message.id if isinstance(message.id, str) else message.id[0])
        for message in catalogue
        if message.id
    )


@contextmanager
def spoken_pseudo() -> Iterator[None]:
    """Speak it in every thread of this process, whatever language is chosen, within a ``with`` block."""
    with patch("colophony.language._catalogue", lambda name: Pseudo()):
        yield


def outside(text: str) -> str:
    """Return what stands outside the brackets, which may nest; a bracketed part leaves one space."""
    kept, depth = [], 0
    for sign in text:
        if sign == OPEN:
            depth += 1
            kept.append(" ")
        elif sign == CLOSE:
            depth -= 1
        elif depth == 0:
            kept.append(sign)
    assert depth == 0, "a bracket is missing: was a message cut apart?"
    return "".join(kept)


def words_outside(text: str, *, allowed: frozenset[str] | set[str] = frozenset()) -> list[str]:
    """Return the words of two letters or more outside the brackets, but for those allowed (in lower case)."""
    return [word for word in _WORD.findall(outside(text)) if word.lower() not in allowed]
