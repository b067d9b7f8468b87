"""Writes ``docs/commands.md`` from the program itself: ``make docs``; a test sees that it was done."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from colophony.app.cli import program
from colophony.app.settings import SETTINGS

ROOT = Path(__file__).parent.parent
COMMANDS = ROOT / "docs/commands.md"


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


if __name__ == "__main__":
    COMMANDS.write_text(commands_page(), encoding="utf-8")
    print(f"written: {COMMANDS.relative_to(ROOT)}")
