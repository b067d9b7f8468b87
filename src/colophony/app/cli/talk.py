"""``colophony talk``: demonstrations for a room, played on a string, in one file that needs no network."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from colophony.app.cli import options
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.app.settings import Settings
from colophony.language import _, figures

#: The keys of `colophony.teaching.demonstrations`, which takes too long to load for help.
SLIDES = (
    "corner",
    "stick-and-slip",
    "too-much",
    "too-little",
    "map",
    "near-and-far",
    "tilt",
    "starts",
    "size",
    "family",
)


@click.command(short_help="Make a talk for a room: one offline file with sound and slow motion.")
@click.option(
    "--out",
    metavar="OUT.html",
    type=click.Path(path_type=Path),
    required=True,
    help="The file to write; it opens in a browser without a network.",
)
@options.instrument_bowed
@options.size
@click.option(
    "--string",
    metavar="|".join(options.STRINGS),
    help="String that is bowed; else D, on the viola G.",
)
@click.option(
    "--slides",
    metavar="KEYS",
    help=f"Demonstrations in their order, between commas; else all: {', '.join(SLIDES)}.",
)
@click.option("--name", help="Name of the talk, on its first slide.")
@options.language
@click.pass_context
def talk(
    context: click.Context,
    /,
    out: Path,
    instrument: str | None,
    **asked: str | None,
) -> None:
    """Make a talk for a room: every stroke is played by the simulation of this very string.

    The file holds the slides with their sounds and slow motions, the speaker's notes for parents, for
    players and for physics students, and answers to keys and to a clicker.
    """
    check_outputs({"--out": (out, (".html", ".htm"))}, inputs=())

    from colophony.app.talk import Talk, offline_page

    settings: Settings = context.obj
    fields = {name: value for name, value in asked.items() if value}
    arranged = Talk.read(fields | {"instrument": instrument or settings.instrument or "violin"})
    page = offline_page(arranged, progress=_tell if sys.stderr.isatty() else None)
    with whole_file(out) as path:
        path.write_text(page, encoding="utf-8")
    click.echo(
        _("talk: {file}, {size} MB").format(file=out, size=figures(f"{len(page) / 1e6:.1f}")), err=True
    )
    click.echo(
        _("Open it in a browser. Set the loudness before the room fills, low at first: page down goes on."),
        err=True,
    )


def _tell(done: int, count: int) -> None:
    """Say on one line of the terminal how many slides are played."""
    line = _("slides played: {done} of {count}").format(done=done, count=count)
    click.echo(f"\r{line}", err=True, nl=done == count)
