"""Reads tables of a TOML file value by value, and gathers every mistake instead of stopping at the first."""

from __future__ import annotations

import re
from collections.abc import Mapping, Set
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from colophony.errors import InputError
from colophony.language import _

_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
#: Longest text of an exercise, in characters: more does not fit on a sheet.
LONGEST_TEXT = 400


@dataclass(frozen=True)
class Mistake:
    """One mistake: where it stands, such as ``my-key.stroke.beats``, and limit and remedy in words."""

    place: str
    message: str


class MistakesError(InputError):
    """All mistakes of one file: ``lines`` holds them one by one, each with place, limit and remedy.

    ``found`` holds the same by place, for those who name the places otherwise; empty where there are none.
    """

    def __init__(self, lines: tuple[str, ...], found: tuple[Mistake, ...] = ()) -> None:
        """Take the lines."""
        super().__init__("; ".join(lines))
        self.lines, self.found = lines, found


class Mistakes:
    """Gathers the mistakes of one file: where, and what to do."""

    def __init__(self, file: str) -> None:
        """Name the file."""
        self._file = file
        self._found: list[Mistake] = []

    def add(self, place: str, message: str) -> None:
        """Remember a mistake at a place."""
        self._found.append(Mistake(place, message))

    def refuse(self) -> None:
        """Raise `MistakesError` if there are any."""
        if self._found:
            raise MistakesError(tuple(map(self._line, self._found)), tuple(self._found))

    def _line(self, mistake: Mistake) -> str:
        return _("{file}: {place}: {message}").format(
            file=self._file, place=mistake.place, message=mistake.message
        )


class Table:
    """One table of a file; what is wrong in it goes to `Mistakes`, and a harmless value takes its place."""

    def __init__(self, told: Mapping[str, Any], place: str, mistakes: Mistakes) -> None:
        """Take the table and say where it stands."""
        self._told, self._place, self._mistakes = told, place, mistakes

    def __contains__(self, name: str) -> bool:
        """Whether something is written under a name."""
        return name in self._told

    def mistake(self, name: str, message: str, **values: Any) -> None:
        """Remember a mistake of one value."""
        self._mistakes.add(f"{self._place}.{name}", message.format(**values))

    def allow(self, names: Set[str]) -> None:
        """Name every key that is not among these."""
        for name in self._told:
            if name not in names:
                near = get_close_matches(name, names, n=1)
                choices = ", ".join(near or sorted(names))
                self.mistake(name, _("is not known: did you mean {choices}?"), choices=choices)

    def text(self, name: str) -> str:
        """Return a text that must be there."""
        value = self._told.get(name)
        if not isinstance(value, str) or not value.strip():
            self.mistake(name, _("is missing: write a sentence in quotes"))
            return ""
        if len(value) > LONGEST_TEXT:
            self.mistake(name, _("has {n} characters: use at most {most}"), n=len(value), most=LONGEST_TEXT)
        return value.strip()

    def slug(self, name: str) -> str:
        """Return a key: small letters, digits and hyphens."""
        value = self._told.get(name)
        if not isinstance(value, str) or not _SLUG.fullmatch(value):
            self.mistake(name, _("must be a word of small letters, digits and hyphens, such as my-exercise"))
            return ""
        return value

    def number(self, name: str, limits: tuple[float, float], *, default: Any) -> Any:
        """Return a number within limits; the default where it is absent."""
        if name not in self._told:
            return default
        value = self._told[name]
        return float(value) if self._is_within(name, value, limits) else default

    def whole(self, name: str, limits: tuple[int, int], *, default: int) -> int:
        """Return a whole number within limits; the default where it is absent."""
        value = self._told.get(name, default)
        if not isinstance(value, int) or isinstance(value, bool):
            self.mistake(
                name,
                _("{value!r} is no whole number: choose {least} to {most}"),
                value=value,
                least=limits[0],
                most=limits[1],
            )
            return default
        return value if self._is_within(name, value, limits) else default

    def span(
        self, name: str, limits: tuple[float, float], *, default: tuple[float, float]
    ) -> tuple[float, float]:
        """Return two numbers, at the start and at the end; one alone counts for both."""
        value = self._told.get(name, list(default))
        both = value if isinstance(value, list) else [value, value]
        if len(both) != 2:
            self.mistake(name, _("needs two numbers, at the start and at the end of a bow: such as [3, 3]"))
            return default
        if not all(self._is_within(name, one, limits) for one in both):
            return default
        return float(both[0]), float(both[1])

    def whole_numbers(
        self, name: str, limits: tuple[int, int], *, default: tuple[int, ...]
    ) -> tuple[int, ...]:
        """Return a list of whole numbers within limits, at least one."""
        value = self._told.get(name, list(default))
        is_list = isinstance(value, list) and value and all(type(one) is int for one in value)
        if not is_list or not all(limits[0] <= one <= limits[1] for one in value):
            self.mistake(
                name,
                _("needs a list of whole numbers from {least} to {most}, such as [{least}]"),
                least=limits[0],
                most=limits[1],
            )
            return default
        return tuple(value)

    def choice(self, name: str, choices: tuple[str, ...], *, default: Any = "") -> Any:
        """Return one of some words; the default where it is absent, a mistake if there is none."""
        value = self._told.get(name, default)
        if value is None or value in choices:
            return value
        if name not in self._told:
            self.mistake(name, _("is missing: choose one of {choices}"), choices=", ".join(choices))
            return default
        self.mistake(
            name,
            _("{value!r} is not known: choose one of {choices}"),
            value=value,
            choices=", ".join(choices),
        )
        return default

    def choices(self, name: str, choices: tuple[str, ...]) -> tuple[Any, ...]:
        """Return some of some words, at least one."""
        value = self._told.get(name)
        if not isinstance(value, list) or not value or any(one not in choices for one in value):
            self.mistake(name, _("needs a list of some of {choices}"), choices=", ".join(choices))
            return ()
        return tuple(value)

    def words(self, name: str) -> tuple[str, ...]:
        """Return a list of words, which may be empty or absent."""
        value = self._told.get(name, [])
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            self.mistake(name, _('needs a list of keys in quotes, such as ["hold-point-whole"]'))
            return ()
        return tuple(value)

    def table(self, name: str) -> Table:
        """Return an inner table; an empty one where it is absent or none."""
        value = self._told.get(name, {})
        if not isinstance(value, dict):
            self.mistake(name, _("must be a table: write {table} = {{ ... }}"), table=name)
            value = {}
        return Table(value, f"{self._place}.{name}", self._mistakes)

    def _is_within(self, name: str, value: Any, limits: tuple[float, float]) -> bool:
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if is_number and limits[0] <= value <= limits[1]:
            return True
        self.mistake(
            name,
            _("{value!r} is out of range: choose {least:g} to {most:g}"),
            value=value,
            least=limits[0],
            most=limits[1],
        )
        return False
