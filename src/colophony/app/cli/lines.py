"""Text that comes from outside, made safe for one line of a terminal."""

from __future__ import annotations

import click


def one_line(text: str) -> str:
    """Return text without line breaks and control characters, which a file name may hold."""
    return "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))


def print_error(error: object) -> None:
    """Write an error as one line on standard error."""
    click.echo(f"colophony: {one_line(str(error))}", err=True)
