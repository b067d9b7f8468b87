"""Several things in one sentence: a range, one or another, as the language of the moment joins them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from colophony.language import N_, _, figures

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


def listed(things: Sequence[str]) -> str:
    """Return several things as one list: ``this, that and another``; empty without any."""
    if len(things) < 2:
        return "".join(things)
    return _("{things} and {last}").format(things=", ".join(things[:-1]), last=things[-1])


def hair_words(tilt_deg: float) -> str:
    """Return how the hair lies: ``hair flat``."""
    if tilt_deg == 0:
        return _("hair flat")
    return _("hair tilted by {angle} degrees").format(angle=figures(f"{tilt_deg:g}"))


def string_words(*, instrument: str, size: str, string: str, gauge: str, note: str, is_open: bool) -> str:
    """Return a string and its note in words: ``Violin 4/4, A string, open A4``."""
    if gauge == "medium":
        line = (
            _("{instrument} {size}, {string} string, open {note}")
            if is_open
            else _("{instrument} {size}, {string} string, stopped at {note}")
        )
    else:
        line = (
            _("{instrument} {size}, {string} string, {gauge} gauge, open {note}")
            if is_open
            else _("{instrument} {size}, {string} string, {gauge} gauge, stopped at {note}")
        )
    return line.format(instrument=capital(_(instrument)), size=size, string=string, gauge=_(gauge), note=note)


def capital(text: str) -> str:
    """Return a text with a capital letter at its beginning, the rest as it is."""
    return text[:1].upper() + text[1:]
