"""Writes ``docs/commands.md`` and the output in the README from the program: ``make docs``.

``tests/test_docs.py`` sees that it was done.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click

from colophony.app.cli import program
from colophony.app.settings import SETTINGS

ROOT = Path(__file__).parent.parent
COMMANDS = ROOT / "docs/commands.md"
README = ROOT / "README.md"
TAKE = "synthetic-violin-pressed-bow.m4a"
_OUTPUT = re.compile(r"(?<=-->\n```text\n).*?(?=```\n<!-- end of output -->)", re.DOTALL)


def commands_page() -> str:
    """Return the page of every command, option and setting."""
    parts = [
        "# Commands and settings",
        "Made from the program by `make docs`. `colophony COMMAND --help` says the same.",
    ]
    for context in every_command(program, "colophony"):
        level = "##" if context.command_path.count(" ") < 2 else "###"
        parts += [f"{level} {context.command_path}", f"```text\n{context.get_help()}\n```"]
    parts += [
        "## Settings",
        "Environment variables, read once at start. An option goes before a setting.",
        "\n".join(
            [
                "| variable | default | what it is |",
                "|---|---|---|",
                *(
                    f"| `{s.variable}` | {f'`{s.default}`' if s.default else 'none'} | {s.help} |"
                    for s in SETTINGS
                ),
            ]
        ),
        "`COLOPHONY_TRACEBACK=1` shows where a fault of the program itself arose.",
    ]
    return "\n\n".join(parts) + "\n"


def every_command(
    command: click.Command, name: str, parent: click.Context | None = None
) -> Iterator[click.Context]:
    """Yield the context of every command, a group before its members."""
    width = {"terminal_width": 100, "max_content_width": 100}
    context = click.Context(command, info_name=name, parent=parent, **command.context_settings | width)
    yield context
    if isinstance(command, click.Group):
        for member in sorted(command.commands):
            yield from every_command(command.commands[member], member, context)


def shown_output(readme: str) -> str:
    """Return the output that a text of the README shows."""
    match = _OUTPUT.search(readme)
    assert match is not None, "the README has no block between the marks"
    return match[0]


def true_output() -> str:
    """Return what ``colophony listen`` says of the demonstration's computed take, 88 columns wide."""
    command = [sys.executable, "-m", "colophony", "listen", TAKE, "--instrument", "violin"]
    settings = {name: value for name, value in os.environ.items() if not name.startswith("COLOPHONY_")}
    answer = subprocess.run(
        command,
        cwd=ROOT / "src/colophony/app/demo",
        env=settings | {"COLUMNS": "88", "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    return "".join(f"{line.rstrip()}\n" for line in answer.stdout.splitlines())


if __name__ == "__main__":
    readme = README.read_text(encoding="utf-8")
    output = true_output()
    README.write_text(_OUTPUT.sub(lambda _: output, readme), encoding="utf-8")
    print(f"written: {README.relative_to(ROOT)}")
    COMMANDS.write_text(commands_page(), encoding="utf-8")
    print(f"written: {COMMANDS.relative_to(ROOT)}")
