"""The talk as a teacher arranges it: an instrument, a string, and demonstrations in their order."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.strings import FULL_SIZE, BowedString, find_string, sizes_of, strings_of
from colophony.teaching.demonstrations import DEMONSTRATIONS, Demonstration, find_demonstration

#: Double basses are bowed with another hand; the demonstrations were tried on these.
INSTRUMENTS = ("violin", "viola", "cello")
_USUAL_STRING: Mapping[str, str] = {"violin": "D", "viola": "G", "cello": "D"}
_LONGEST_NAME = 80
#: Stands in an address for a sequence from which everything was removed.
_NOTHING = "none"


@dataclass(frozen=True, slots=True)
class Talk:
    """A talk. Made by `read`, which checks; ``keys`` are those of `teaching.demonstrations`, each once."""

    instrument: str = "violin"
    size: str = "4/4"
    string: str = "D"
    keys: tuple[str, ...] = tuple(DEMONSTRATIONS)
    name: str = ""  #: what the teacher calls it; may be empty

    @classmethod
    def read(cls, fields: Mapping[str, str]) -> Talk:
        """Read a talk from the fields of an address; what is left out is as usual.

        Fields: ``instrument``, ``size``, ``string``, ``slides`` (keys between commas), ``name``. Raises
        `InputError` with the first thing to put right.
        """
        instrument = fields.get("instrument", "").strip() or "violin"
        if instrument not in INSTRUMENTS:
            raise InputError(
                _("{instrument} is no instrument here: choose one of {choices}.").format(
                    instrument=repr(instrument[:30]), choices=", ".join(INSTRUMENTS)
                )
            )
        size = fields.get("size", "").strip()[:30] or "4/4"
        asked = fields.get("string", "").strip()[:30]
        usual = _USUAL_STRING[instrument]
        string = find_string(instrument, size if size in sizes_of(instrument) else "4/4", asked or usual)
        find_string(instrument, size, string.name)
        slides = fields.get("slides", "").strip()
        keys = tuple(DEMONSTRATIONS)
        if slides:
            keys = tuple(key.strip() for key in slides.split(",") if key.strip() not in ("", _NOTHING))
        for key in keys:
            find_demonstration(key)
        return cls(instrument, size, string.name, tuple(dict.fromkeys(keys)), _plain(fields.get("name", "")))

    def query(self) -> dict[str, str]:
        """Return the fields of an address that reopens this talk; inverse of `read`."""
        fields = {"instrument": self.instrument, "size": self.size, "string": self.string}
        fields["slides"] = ",".join(self.keys) or _NOTHING
        return fields | ({"name": self.name} if self.name else {})

    @property
    def demonstrations(self) -> tuple[Demonstration, ...]:
        """The slides in their order."""
        return tuple(DEMONSTRATIONS[key] for key in self.keys)

    @property
    def left_out(self) -> tuple[Demonstration, ...]:
        """The demonstrations that could be added."""
        return tuple(one for key, one in DEMONSTRATIONS.items() if key not in self.keys)

    @property
    def bowed(self) -> BowedString:
        """The string that is bowed."""
        return find_string(self.instrument, self.size, self.string)

    def moved(self, key: str, by: int) -> Talk:
        """Return the talk with a slide so many places later (earlier below 0), as far as there are any."""
        keys = [one for one in self.keys if one != key]
        if len(keys) == len(self.keys):
            return self
        place = min(max(self.keys.index(key) + by, 0), len(keys))
        keys.insert(place, key)
        return replace(self, keys=tuple(keys))

    def without(self, key: str) -> Talk:
        """Return the talk without a slide."""
        return replace(self, keys=tuple(one for one in self.keys if one != key))

    def and_then(self, key: str) -> Talk:
        """Return the talk with a slide at its end."""
        return replace(self.without(key), keys=(*self.without(key).keys, key))


def choices_of(talk: Talk) -> dict[str, list[str]]:
    """Return the instruments, and the sizes and strings of the one chosen, the lowest string first."""
    return {
        "instrument": [name for name in FULL_SIZE if name in INSTRUMENTS],
        "size": list(sizes_of(talk.instrument)),
        "string": [string.name for string in strings_of(talk.instrument, talk.size)],
    }


def _plain(name: str) -> str:
    """Return a name as one line of at most `_LONGEST_NAME` letters, without control characters."""
    letters = "".join(c for c in name if unicodedata.category(c) not in {"Cc", "Cs", "Co", "Cn"})
    return " ".join(letters.split())[:_LONGEST_NAME].strip()
