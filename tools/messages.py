"""Finds every message that a reader can meet: in Python, page templates, data, help of commands."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from jinja2.ext import babel_extract

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "src/colophony"

#: Functions that say or mark a message, with the number of their arguments that are text.
SAYING = {"_": 1, "N_": 1, "ngettext": 2, "pgettext": 2}
#: Classes whose every text is a message.
THOUGHTS = ("Say",)
#: Keys of data files whose values are messages.
DATA_KEYS = ("title", "child", "adult", "teacher", "name")
#: As `colophony.app.look.templates.environment` sets them.
TEMPLATE_OPTIONS = dict.fromkeys(("trimmed", "trim_blocks", "lstrip_blocks", "newstyle_gettext"), "true")
TEMPLATE_OPTIONS["silent"] = "false"


@dataclass(frozen=True, slots=True)
class Found:
    """One message, where it stands (a path within the project), its plural and its context."""

    file: str
    text: str
    plural: str | None = None
    context: str | None = None


def every_message() -> Iterator[Found]:
    """Yield the messages of the whole package."""
    for path in sorted(PACKAGE.rglob("*.py")):
        yield from in_python(path.read_text(encoding="utf-8"), _name(path))
    for path in sorted(PACKAGE.rglob("*.j2")):
        yield from in_template(path, _name(path))
    for path in sorted(PACKAGE.rglob("*.toml")):
        yield from in_data(tomllib.loads(path.read_text(encoding="utf-8")), _name(path))
    yield from in_commands()


def in_python(source: str, file: str) -> Iterator[Found]:
    """Yield the messages of a Python module."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = called(node)
        if name in THOUGHTS:
            given = [*node.args, *(keyword.value for keyword in node.keywords)]
            yield from (Found(file, text) for text in map(text_of, given) if text)
        elif name in SAYING and len(node.args) >= SAYING[name]:
            first, *second = (text_of(argument) for argument in node.args[: SAYING[name]])
            yield from _said(name, first, second[0] if second else None, file)


def in_template(path: Path, file: str) -> Iterator[Found]:
    """Yield the messages of a page template."""
    with path.open("rb") as source:
        for _, function, text, _ in babel_extract(
            source, ("_", "gettext", "ngettext", "pgettext"), (), TEMPLATE_OPTIONS
        ):
            one, many = (*text, None)[:2] if isinstance(text, tuple) else (text, None)
            yield from _said(function, one, many, file)


def in_data(data: object, file: str) -> Iterator[Found]:
    """Yield the messages of a data file: the texts under `DATA_KEYS`, however deep."""
    if isinstance(data, list):
        for item in data:
            yield from in_data(item, file)
    elif isinstance(data, dict):
        for key, value in data.items():
            if isinstance(value, str):
                if key in DATA_KEYS:
                    yield Found(file, value)
            else:
                yield from in_data(value, file)


def in_commands() -> Iterator[Found]:
    """Yield the help of every command, as it is asked for when it is shown."""
    from colophony.app.cli import program
    from colophony.app.cli.speaking import help_of

    return (Found("src/colophony/app/cli", text) for text in help_of(program))


def called(node: ast.Call) -> str:
    """Return the bare name of what is called."""
    return node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")


def text_of(node: ast.expr) -> str | None:
    """Return a constant's text, None where it is none."""
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _said(function: str, first: str | None, second: str | None, file: str) -> Iterator[Found]:
    if not first:
        return
    if function == "ngettext" and second:
        yield Found(file, first, plural=second)
    elif function == "pgettext" and second:
        yield Found(file, second, context=first)
    elif function not in ("ngettext", "pgettext"):
        yield Found(file, first)


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()
