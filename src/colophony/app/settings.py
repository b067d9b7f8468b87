"""Every setting, in one table: name, default, help. Read once at start; below `app` all is passed in.

A setting is the environment variable ``COLOPHONY_`` with its name in capitals; an option of a command
goes before it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from colophony.errors import InputError
from colophony.language import LANGUAGES, N_, _, language_of

if TYPE_CHECKING:
    from colophony.listening.take import Instrument
    from colophony.teaching.findings import Reader

INSTRUMENTS = ("violin", "viola", "cello")
READERS = ("child", "adult", "teacher")
#: As in `colophony.teaching.plans`, which takes too long to load for help.
AGE_GROUPS = ("small-child", "child", "teen", "of-age")
#: Tunings that are heard, as in `colophony.listening.tuning`, which takes too long to load for help.
A4_LIMITS_HZ = (415.0, 450.0)


@dataclass(frozen=True, slots=True)
class Setting:
    """One row of the table; ``read`` turns its text into a value or raises `ValueError` with the limit.

    ``help`` is a message of the catalogue.
    """

    name: str
    default: str
    help: str
    read: Callable[[str], object]

    @property
    def variable(self) -> str:
        """The environment variable that holds it."""
        return f"COLOPHONY_{self.name.upper()}"


def _one_of(words: tuple[str, ...]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in words:
            raise ValueError(_("must be one of {words}").format(words=", ".join(words)))
        return text

    return read


def _instrument(text: str) -> str | None:
    return _one_of(INSTRUMENTS)(text) if text else None


def _language(text: str) -> str:
    return _one_of(tuple(LANGUAGES))(text) if text else ""


def _folder(text: str) -> Path:
    return Path(text).expanduser()


def _host(text: str) -> str:
    if not text.strip():
        raise ValueError(_("must be a name or an address, such as 127.0.0.1"))
    return text.strip()


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) <= 65535):
        raise ValueError(_("must be a number from 0 to 65535"))
    return int(text)


SETTINGS = (
    Setting("studio", "~/Colophony", N_("Folder that keeps students, takes and findings."), _folder),
    Setting(
        "instrument", "", N_("What is played where a command does not say; empty: not known."), _instrument
    ),
    Setting("reader", "teacher", N_("Whose words findings are said in."), _one_of(READERS)),
    Setting(
        "language",
        "",
        N_("Language of all words, such as en or de; empty: what this machine speaks, else English."),
        _language,
    ),
    Setting("cache", "~/.cache/colophony", N_("Folder of computed maps; safe to delete."), _folder),
    Setting("host", "127.0.0.1", N_("Address of this machine that the studio's pages answer on."), _host),
    Setting("port", "8427", N_("Port the studio's pages answer on; 0 takes any free one."), _port),
)


@dataclass(frozen=True, slots=True)
class Settings:
    """The table's values for this run; one field a setting."""

    studio: Path
    instrument: Instrument | None
    reader: Reader
    language: str
    cache: Path
    host: str
    port: int


def read_settings(environ: Mapping[str, str]) -> Settings:
    """Return the settings that an environment asks for; an empty variable counts as absent.

    Raises `InputError` that names the variable, its value and its limit.
    """
    values: dict[str, object] = {}
    for setting in SETTINGS:
        text = environ.get(setting.variable) or setting.default
        try:
            values[setting.name] = setting.read(text)
        except ValueError as error:
            raise InputError(
                _("{variable} is {text!r}: it {limit}").format(
                    variable=setting.variable, text=text, limit=error
                )
            ) from None
    values["language"] = values["language"] or language_of_machine(environ)
    return Settings(**values)  # type: ignore[arg-type]


def language_of_machine(environ: Mapping[str, str]) -> str:
    """Return the language to speak: the setting's where it is known, else by the variables of POSIX 8.2."""
    asked = environ.get("COLOPHONY_LANGUAGE", "")
    if asked in LANGUAGES:
        return asked
    names = ("LC_ALL", "LC_MESSAGES", "LANG")
    return language_of(next((environ[name] for name in names if environ.get(name)), ""))
