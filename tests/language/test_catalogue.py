"""The catalogue holds every message, and every language has all of them."""

from __future__ import annotations

import importlib.util
import re
import string
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from babel.messages.catalog import Catalog, Message

from colophony.language import LANGUAGES, SOURCE, ngettext, speaking

ROOT = Path(__file__).parents[2]
SPOKEN = [name for name in LANGUAGES if name != SOURCE]


@pytest.fixture(scope="module")
def make_catalogue() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_catalogue", ROOT / "tools/make_catalogue.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def wanted(make_catalogue: ModuleType) -> Catalog:
    made = make_catalogue.template(make_catalogue.every_message())
    assert isinstance(made, Catalog)
    return made


def messages(catalogue: Catalog) -> list[Message]:
    return [message for message in catalogue if message.id]


def originals(message: Message) -> tuple[str, ...]:
    return (message.id,) if isinstance(message.id, str) else tuple(message.id)


def translations(message: Message) -> tuple[str, ...]:
    return (message.string,) if isinstance(message.string, str) else tuple(message.string)


def fields(text: str) -> set[str]:
    """Return the names of what goes into a message: ``{name}`` in Python, ``%(name)s`` in templates."""
    braces = {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
    return braces | set(re.findall(r"%\((\w+)\)s", text))


def pairs(message: Message) -> Iterator[tuple[str, str]]:
    """Yield each form of a message with its translation; a form beyond the second is a plural too."""
    known = originals(message)
    for index, said in enumerate(translations(message)):
        yield known[min(index, len(known) - 1)], said


def test_the_catalogue_is_made_from_the_source(make_catalogue: ModuleType, wanted: Catalog) -> None:
    """``make words`` writes it again after a sentence has changed."""
    assert make_catalogue.as_po(wanted) == make_catalogue.TEMPLATE.read_bytes()


@pytest.mark.parametrize("language", SPOKEN)
def test_a_language_has_every_message(make_catalogue: ModuleType, wanted: Catalog, language: str) -> None:
    """None is empty, and none is a guess that nobody has looked at."""
    had = messages(make_catalogue.read(make_catalogue.po_path(language), language))
    assert {(m.context, m.id) for m in had} == {(m.context, m.id) for m in messages(wanted)}
    assert [originals(m)[0] for m in had if m.fuzzy or not all(translations(m))] == []


@pytest.mark.parametrize("language", SPOKEN)
def test_a_translation_keeps_what_goes_into_the_message(make_catalogue: ModuleType, language: str) -> None:
    """The same fields, the same parts between bars, the same spaces at both ends, percent signs that hold."""
    differ = []
    for message in messages(make_catalogue.read(make_catalogue.po_path(language), language)):
        in_template = any(file.endswith(".j2") for file, _ in message.locations)
        for original, said in pairs(message):
            if not said:
                continue
            ends = [(text[:1].isspace(), text[-1:].isspace(), text.count("|")) for text in (original, said)]
            is_count = original == originals(message)[0] and len(originals(message)) > 1
            same = fields(said) <= fields(original) if is_count else fields(said) == fields(original)
            if not same or ends[0] != ends[1]:
                differ.append(original)
            if in_template:
                assert said % dict.fromkeys(fields(said), ""), said
    assert differ == []


@pytest.mark.parametrize("language", SPOKEN)
def test_the_compiled_catalogue_is_the_readable_one(make_catalogue: ModuleType, language: str) -> None:
    path = make_catalogue.po_path(language)
    assert make_catalogue.as_mo(make_catalogue.read(path, language)) == path.with_suffix(".mo").read_bytes()


def test_a_changed_message_is_untranslated_and_one_that_comes_back_is_not(
    make_catalogue: ModuleType,
) -> None:
    def wanted(*texts: str) -> Catalog:
        made = make_catalogue.template([make_catalogue.Found("a.py", text) for text in texts])
        assert isinstance(made, Catalog)
        return made

    before = make_catalogue.updated(wanted("The bow.", "Go."), make_catalogue.read(Path("none"), "de"))
    before["The bow."].string, before["Go."].string = "Der Bogen.", "Los."
    without = make_catalogue.updated(wanted("The bows."), before)
    assert without["The bows."].string == ""
    assert make_catalogue.updated(wanted("Go."), without)["Go."].string == "Los."


def test_a_count_takes_the_plural_of_the_language() -> None:
    """English and German have one form for one and one for all else (Unicode CLDR, plural rules)."""
    for name in LANGUAGES:
        with speaking(name):
            assert [ngettext("{n} of ours", "{n} of all", n) for n in (0, 1, 2)] == [
                "{n} of all",
                "{n} of ours",
                "{n} of all",
            ]
