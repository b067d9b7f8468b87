"""Several things in one sentence: a range, one or another, as the language of the moment joins them."""

from __future__ import annotations

from collections.abc import Iterable

from colophony.language import N_, _

#: Words that stand in data in English and are shown by `_`.
WORDS = (
    *(N_("violin"), N_("viola"), N_("cello"), N_("double bass")),
    *(N_("down"), N_("up"), N_("practice"), N_("reference")),
    *(N_("light"), N_("medium"), N_("heavy")),
)

def from_to(least: str, greatest: str) -> str:
    """Return a range in words: ``3 to 5``; one thing where both ends are the same."""
    return least if least == greatest else _("{least} to {greatest}").format(least=least, greatest=greatest)


def either(things: Iterable[str]) -> str:
    """Return one or another: ``this or that``."""
    first, *others = things
    for other in others:
        first = _("{one} or {other}").format(one=first, other=other)
    return first


def sentences(parts: Iterable[str]) -> str:
    """Return whole sentences as one text."""
    return " ".join(part for part in parts if part)
