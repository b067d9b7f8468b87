"""No sentence is left outside the catalogue."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from sentences import (
    classes_of,
    looked_up_too_early,
    made_messages,
    names_in,
    sentences_of_script,
    unsaid,
    words_of_template,
)

import colophony

PACKAGE = Path(colophony.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
TEMPLATES = sorted(PACKAGE.rglob("*.j2"))
SCRIPTS = sorted(PACKAGE.rglob("*.js"))
#: From here on the gallery shows the parts of a page to those who build pages.
FOR_BUILDERS = "{% for theme in themes %}"
LAYERS = ("app", "records", "teaching", "listening", "physics", "units", "errors", "language")


def layer_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@cache
def names() -> frozenset[str]:
    return frozenset(name for path in MODULES for name in names_in(path.read_text(encoding="utf-8")))


@cache
def classes() -> frozenset[str]:
    sheets = [path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.css")]
    return frozenset(name for sheet in sheets for name in classes_of(sheet))


@pytest.mark.parametrize("layer", LAYERS)
def test_every_sentence_of_the_source_passes_through_the_catalogue(layer: str) -> None:
    """Every text with two words side by side, but for what `sentences.EXEMPT` names."""
    left = [
        f"{path.relative_to(PACKAGE)}:{line}: {text[:80]}"
        for path in MODULES
        if layer_of(path) == layer
        for line, text in unsaid(path.read_text(encoding="utf-8"), layer=layer, names=names())
    ]
    assert left == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_every_word_of_a_page_passes_through_the_catalogue(path: Path) -> None:
    shown, _, _ = path.read_text(encoding="utf-8").partition(FOR_BUILDERS)
    assert words_of_template(shown) == []


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_pages_script_holds_no_sentence(path: Path) -> None:
    """It takes them from its page, which speaks the language of the reader."""
    assert sentences_of_script(path.read_text(encoding="utf-8"), classes=classes()) == []


def test_no_message_is_looked_up_before_a_language_is_chosen() -> None:
    """A module is loaded once, for readers of every language."""
    early = [
        f"{path.relative_to(PACKAGE)}:{line}"
        for path in MODULES
        for line in looked_up_too_early(path.read_text(encoding="utf-8"))
    ]
    assert early == []


def test_no_message_is_made_before_it_is_looked_up() -> None:
    made = [
        f"{path.relative_to(PACKAGE)}:{line}"
        for path in MODULES
        for line in made_messages(path.read_text(encoding="utf-8"))
    ]
    assert made == []


@pytest.mark.parametrize(
    "source",
    [
        'raise InputError("the bow is gone")',
        'raise InputError(f"the bow of {name} is gone")',
        'words = {"key": "the bow is gone"}',
        'def f(x="the bow is gone"): pass',
        'f(_("the bow") + "of the player")',
        'g(_("{what}").format(what="the bow"))',
        "told = f'<p>the bow {x}</p>'",
        "told = f'<svg aria-label=\"the bow {x}\"/>'",
        'raise ValueError("the bow is gone")',
    ],
)
def test_a_sentence_outside_is_found(source: str) -> None:
    assert list(unsaid(source, layer="app"))


@pytest.mark.parametrize(
    "source",
    [
        'raise InputError(_("the bow is gone"))',
        'words = {"key": N_("the bow is gone")}',
        'Say(child="the bow is gone", adult="it is gone", teacher="gone it is")',
        'f(_("the bow is gone") if gone else _("the bow is here"))',
        'f(_("the bow is gone" if gone else "the bow is here"))',
        'def f():\n    """The bow is gone."""',
        'f\'<path d="M{x} {y}" class="of the bow"/>\'',
    ],
)
def test_what_passes_through_or_is_no_sentence_is_let_be(source: str) -> None:
    assert not list(unsaid(source, layer="app"))


def test_words_of_a_page_outside_are_found() -> None:
    assert words_of_template("<p>{{ _('Bow') }} the {% trans %}string{% endtrans %} here</p>") == [
        "the",
        "here",
    ]
    assert words_of_template('<button title="Bow {{ x }}">{{ x }}</button>') == ["Bow"]
    assert words_of_template("{% trans n=n %}one bow{% pluralize %}{{ n }} bows{% endtrans %}") == []


def test_a_sentence_of_a_script_is_found_and_classes_are_not() -> None:
    script = 'say("the bow is gone"); node.className = "button slight"; // the bow is here'
    assert sentences_of_script(script, classes=frozenset({"button", "slight"})) == ["the bow is gone"]
    assert classes_of(".button.slight { color: var(--ink); }") == {"button", "slight"}


def test_a_message_looked_up_too_early_or_made_is_found() -> None:
    assert list(looked_up_too_early('A = _("bow")\ndef f(x=_("bow")): return _("bow")')) == [1, 2]
    assert list(made_messages('_(f"bow {x}")\n_("bow {x}")\n_("bow" + x)\n_("bow {x}".format(x=x))')) == [
        1,
        3,
        4,
    ]
