"""Finds words for a reader that do not pass through the catalogue: in Python, in page templates, in scripts.

A text counts as words for a reader when two words stand in it side by side. It is in order inside ``_``,
``N_``, ``ngettext``, ``pgettext`` and ``Say``, and where no reader meets it: the rules are in `EXEMPT`.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser

import jinja2

SAYING = frozenset({"_", "N_", "ngettext", "pgettext", "Say"})
#: Those of them that look a message up, which must not happen before anybody has chosen a language.
LOOKING_UP = frozenset({"_", "ngettext", "pgettext", "figures"})

#: The program's name, and units (ISO 80000).
SAME_IN_EVERY_LANGUAGE = frozenset({"Colophony", "mm", "cm", "Hz", "dB", "min"})

TWO_WORDS = re.compile(r"[^\W\d_]{2,}[,;:]? [^\W\d_]{2,}")
_WORD = re.compile(r"[^\W\d_]{2,}")


@dataclass(frozen=True, slots=True)
class Text:
    """A text in a module: its node, those around it from the nearest, and its words (``{}`` for a field)."""

    node: ast.expr
    around: tuple[ast.AST, ...]
    text: str

    @property
    def parent(self) -> ast.AST:
        """The node that holds it."""
        return self.around[0]


def unsaid(source: str, *, layer: str = "", names: frozenset[str] = frozenset()) -> Iterator[tuple[int, str]]:
    """Yield line and text of what reads like words for a reader and stands outside the catalogue.

    ``layer`` is the package of Colophony, ``names`` are `names_in` of all of them.
    """
    for found in texts(source):
        reads_like_words = TWO_WORDS.search(found.text) is not None and found.text not in names
        if reads_like_words and not any(rule(found, layer) for rule in EXEMPT):
            yield found.node.lineno, found.text


@cache
def parsed(source: str) -> ast.Module:
    """Return a module's tree."""
    return ast.parse(source)


@cache
def texts(source: str) -> tuple[Text, ...]:
    """Return every text of a module; an f-string is one, with ``{}`` for its fields."""

    def walk(node: ast.AST, around: tuple[ast.AST, ...]) -> Iterator[Text]:
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield Text(node, around, node.value)
            return
        inside = (node, *around)
        if isinstance(node, ast.JoinedStr):
            parts = [part.value if isinstance(part, ast.Constant) else "{}" for part in node.values]
            yield Text(node, around, "".join(map(str, parts)))
            for part in node.values:
                if not isinstance(part, ast.Constant):
                    yield from walk(part, inside)
            return
        for child in ast.iter_child_nodes(node):
            yield from walk(child, inside)

    return tuple(walk(parsed(source), ()))


def names_in(source: str) -> Iterator[str]:
    """Yield the texts that a module uses as names: keys of a mapping, members of a type, compared ones."""
    for found in texts(source):
        parent = found.parent
        if isinstance(parent, ast.Tuple | ast.Set | ast.List) and len(found.around) > 1:
            parent = found.around[1]
        if (
            (isinstance(parent, ast.Dict) and found.node in parent.keys)
            or isinstance(parent, ast.Compare)
            or (isinstance(parent, ast.Subscript) and called(parent.value) == "Literal")
        ):
            yield found.text


def called(node: ast.AST) -> str:
    """Return the bare name of a name, an attribute or of what is called."""
    if isinstance(node, ast.Call):
        node = node.func
    return node.id if isinstance(node, ast.Name) else getattr(node, "attr", "")


def assigned_to(found: Text) -> list[str]:
    """Return the names that a text becomes part of."""
    assigned = [node for node in found.around if isinstance(node, ast.Assign)]
    return [called(target) for node in assigned for target in node.targets]


# The rules of what no reader meets, or what another test looks after


def is_said(found: Text, layer: str) -> bool:
    """It is an argument of what says a message, itself or as one side of a choice."""
    for node in found.around:
        if isinstance(node, ast.Call):
            return isinstance(found.node, ast.Constant) and called(node) in SAYING
        if not isinstance(node, ast.keyword | ast.IfExp):
            return False
    return False


def is_for_who_reads_the_code(found: Text, layer: str) -> bool:
    """A docstring, a type in quotes, or a refusal of what only a programmer can have done."""
    raised = next((node.exc for node in found.around if isinstance(node, ast.Raise)), None)
    for_programmers = {"TypeError", "PermissionError"} | ({"ValueError"} if layer != "app" else set())
    return (
        (isinstance(found.parent, ast.Expr) and isinstance(found.node, ast.Constant))
        or (raised is not None and called(raised) in for_programmers)
        or re.fullmatch(r"[\w.]+\[.*\]", found.text) is not None
    )


def is_source_of_a_figure(found: Text, layer: str) -> bool:
    """In the tables of physics it says where a figure comes from; no page shows it."""
    in_function = any(isinstance(node, ast.FunctionDef | ast.Lambda) for node in found.around)
    return layer == "physics" and (not in_function or "source" in assigned_to(found))


def is_help_of_a_command(found: Text, layer: str) -> bool:
    """The catalogue takes it from the commands, and their help is translated when it is shown."""
    parent = found.parent
    return (
        layer == "app" and isinstance(parent, ast.keyword) and parent.arg in {"help", "short_help", "epilog"}
    )


def is_notation(found: Text, layer: str) -> bool:
    """Patterns, SQL, style sheets and their classes, heads of HTTP, names of files and typefaces."""
    patterns = (
        r"(SELECT|PRAGMA|BEGIN|DELETE|INSERT|UPDATE) ",
        r"\w+ IN \(",
        r"(text/|application/|attachment|inline|default-src)[^;]*;",
        r"(\.|:|@|\[|--|text\{|<\?xml)",
        r"[^.]*\.\w{3}$",
        r".*\\[bwds(]",
    )
    if is_classes(found.text):
        return True
    is_typeface = any(name.endswith("FAMILY") for name in assigned_to(found))
    return is_typeface or any(re.match(pattern, found.text) for pattern in patterns)


def is_classes(text: str) -> bool:
    """Tell whether a text names classes of a style sheet: lower case, the first with a hyphen."""
    return re.fullmatch(r"[a-z]+(-[a-z0-9{}]+)+( [a-z{}][a-z0-9{}-]*)+", text) is not None


def is_markup_without_words(found: Text, layer: str) -> bool:
    """Markup whose words are all fields: nothing is left of it without its tags."""
    if re.match(r"[\w\s-]*=\"", found.text):  # attributes alone
        return not words_of_markup(f"<g {found.text}>")
    return re.match(r"\s*<", found.text) is not None and not words_of_markup(found.text)


EXEMPT: tuple[Callable[[Text, str], bool], ...] = (
    is_said,
    is_for_who_reads_the_code,
    is_source_of_a_figure,
    is_help_of_a_command,
    is_notation,
    is_markup_without_words,
)


def looked_up_too_early(source: str) -> Iterator[int]:
    """Yield the lines that look a message up when the module is loaded: nobody has chosen a language then."""

    def walk(node: ast.AST) -> Iterator[int]:
        if isinstance(node, ast.Call) and called(node) in LOOKING_UP:
            yield node.lineno
        children = list(ast.iter_child_nodes(node))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            children = [*node.args.defaults, *filter(None, node.args.kw_defaults)]
            children += getattr(node, "decorator_list", [])
        for child in children:
            yield from walk(child)

    return walk(parsed(source))


def made_messages(source: str) -> Iterator[int]:
    """Yield the lines that hand something made, such as an f-string, to the catalogue."""
    for node in ast.walk(parsed(source)):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in SAYING - {"Say"}
        ):
            given = node.args[:2] if node.func.id in {"ngettext", "pgettext"} else node.args[:1]
            for argument in given:
                is_formatted = isinstance(argument, ast.Call) and called(argument) in {"format", "join"}
                if isinstance(argument, ast.JoinedStr | ast.BinOp) or is_formatted:
                    yield node.lineno


# Page templates and scripts


class _Words(HTMLParser):
    """Collects the words of markup outside scripts and styles, and of the attributes that are read out."""

    READ_OUT = frozenset({"aria-label", "aria-description", "title", "alt", "placeholder", "label"})

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in {"script", "style"}:
            self.silent += 1
        for name, value in attrs:
            if name in self.READ_OUT:
                self.words += _WORD.findall(value or "")

    def handle_endtag(self, tag: str) -> None:
        if tag in {"script", "style"}:
            self.silent -= 1

    def handle_data(self, data: str) -> None:
        if not self.silent:
            without_attributes = re.sub(r"[\w-]+=\"[^\"]*\"", "", data)  # those that a macro gives to a tag
            self.words += _WORD.findall(without_attributes)


def words_of_markup(text: str) -> list[str]:
    """Return the words that a reader sees or hears of a piece of markup."""
    words = _Words()
    words.feed(text)
    words.close()
    return words.words


def words_of_template(source: str) -> list[str]:
    """Return the words of a page template that stand outside ``_()`` and ``{% trans %}``."""
    environment = jinja2.Environment(extensions=["jinja2.ext.i18n"])
    kept: list[str] = []
    is_trans, is_first_name = False, False
    for _, kind, value in environment.lex(source):
        if kind == "data" and not is_trans:
            kept.append(value)
        elif kind == "variable_begin":
            kept.append("x" if kept and kept[-1].endswith(("<", "</")) else "0")
        elif kind == "block_begin":
            is_first_name = True
        elif kind == "name" and is_first_name:
            is_trans = value == "trans" or (is_trans and value != "endtrans")
            is_first_name = False
    return [word for word in words_of_markup("".join(kept)) if word not in SAME_IN_EVERY_LANGUAGE]


def classes_of(style_sheet: str) -> set[str]:
    """Return the names of classes in a style sheet."""
    return set(re.findall(r"\.([a-z][\w-]*)", style_sheet))


def sentences_of_script(source: str, *, classes: frozenset[str] = frozenset()) -> list[str]:
    """Return the texts of a page's script that read like words for a reader and are not only ``classes``."""
    bare = re.sub(r"/\*.*?\*/|(?<![:\"'`])//[^\n]*", "", source, flags=re.DOTALL)
    found = re.findall(r"\"([^\"\n]*)\"|'([^'\n]*)'|`([^`]*)`", bare)
    written = [re.sub(r"\$\{[^}]*\}", "", text) for texts in found for text in texts]
    no_words = re.compile(r"use strict$|\(prefers-|[^.]*\.\w{3}$")
    return [
        text
        for text in written
        if TWO_WORDS.search(text)
        and not no_words.match(text)
        and not classes.issuperset(text.split())
        and len(words_of_markup(text)) > 1
    ]
