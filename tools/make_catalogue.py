"""Writes the catalogue of messages again, from the source: ``make words``.

``colophony.pot`` lists every message once; each language's ``.po`` keeps its translations (a message that
changed is untranslated again, one that is gone waits as ``#~``), and its ``.mo`` is compiled for the program.
``tests/language`` sees that it was done.
"""

from __future__ import annotations

import io
import sys
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tools"))

from messages import Found, every_message  # noqa: E402

from colophony.language import DOMAIN, LANGUAGES, LOCALE_DIR, SOURCE  # noqa: E402

TEMPLATE = LOCALE_DIR / f"{DOMAIN}.pot"
WIDTH = 110


class Undated(Catalog):
    """A catalogue whose head names nothing that changes by itself: no date, no version of a tool."""

    @property
    def mime_headers(self) -> list[tuple[str, str]]:  # type: ignore[override]
        """The head: language, plural forms, encoding."""
        head = [("Project-Id-Version", "Colophony")]
        if self.locale is not None:
            head += [("Language", str(self.locale)), ("Plural-Forms", self.plural_forms)]
        return [
            *head,
            ("MIME-Version", "1.0"),
            ("Content-Type", "text/plain; charset=utf-8"),
            ("Content-Transfer-Encoding", "8bit"),
        ]


def template(found: Iterable[Found]) -> Undated:
    """Return the catalogue of all messages, untranslated, each with the files that say it."""
    files: dict[tuple[str | None, str], set[str]] = defaultdict(set)
    plurals: dict[tuple[str | None, str], str] = {}
    for message in found:
        key = message.context, message.text
        files[key].add(message.file)
        if message.plural is not None:
            plurals[key] = message.plural
    made = _empty(None)
    for context, text in sorted(files, key=lambda key: (key[1], key[0] or "")):
        many = plurals.get((context, text))
        where = [(file, 0) for file in sorted(files[context, text])]
        _put(made, text if many is None else (text, many), "", context=context, locations=where)
    return made


def updated(wanted: Undated, before: Catalog) -> Undated:
    """Return a language's catalogue for the wanted messages, with the translations it had before."""
    made = _empty(str(before.locale))
    had = {(message.context, message.id): message for message in _messages(before)}
    had |= {(message.context, message.id): message for message in before.obsolete.values()}
    for message in _messages(wanted):
        old = had.pop((message.context, message.id), None)
        string = "" if old is None or old.fuzzy else old.string
        _put(made, message.id, string, context=message.context, locations=message.locations)
    made.obsolete = {
        message.id: message for key, message in sorted(had.items(), key=str) if _is_translated(message)
    }
    return made


def as_po(catalogue: Catalog) -> bytes:
    """Return a catalogue as a file of messages."""
    written = io.BytesIO()
    write_po(written, catalogue, width=WIDTH, include_lineno=False)
    return written.getvalue()


def as_mo(catalogue: Catalog) -> bytes:
    """Return a catalogue as the program reads it."""
    written = io.BytesIO()
    write_mo(written, catalogue)
    return written.getvalue()


def read(path: Path, locale: str | None = None) -> Undated:
    """Return the catalogue in a file; an empty one where there is none yet."""
    if not path.exists():
        return _empty(locale)
    with path.open("rb") as file:
        before = read_po(file, locale=locale)
    made = _empty(locale)
    for message in _messages(before):
        _put(
            made, message.id, message.string, context=message.context, locations=message.locations,
            flags=message.flags & {"fuzzy"},
        )  # fmt: skip
    made.obsolete = before.obsolete
    return made


def po_path(language: str) -> Path:
    """Return where a language's translations stand."""
    return LOCALE_DIR / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def main() -> None:
    """Write all files of the catalogue."""
    wanted = template(every_message())
    TEMPLATE.parent.mkdir(parents=True, exist_ok=True)
    TEMPLATE.write_bytes(as_po(wanted))
    for language in LANGUAGES:
        if language == SOURCE:
            continue
        path = po_path(language)
        path.parent.mkdir(parents=True, exist_ok=True)
        made = updated(wanted, read(path, language))
        path.write_bytes(as_po(made))
        path.with_suffix(".mo").write_bytes(as_mo(made))
        missing = sum(not _is_translated(message) for message in _messages(made))
        print(f"{len(made)} messages; {LANGUAGES[language]} lacks {missing}.")


def _empty(locale: str | None) -> Undated:
    return Undated(
        locale=locale, header_comment="# Messages of Colophony: `make words` writes this file.", fuzzy=False
    )


def _put(made: Catalog, text: object, string: object, **more: object) -> None:
    """Add a message whose flags say only what is true of it."""
    message = made.add(text, string, **more)  # type: ignore[arg-type]
    message.flags = set(more.get("flags", ()))  # type: ignore[call-overload]


def _messages(catalogue: Catalog) -> list[Message]:
    """Return the messages without the head."""
    return [message for message in catalogue if message.id]


def _is_translated(message: Message) -> bool:
    return all(message.string) if isinstance(message.string, tuple | list) else bool(message.string)


if __name__ == "__main__":
    main()
