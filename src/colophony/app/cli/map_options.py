"""What the commands that compute maps share: options of the string and of the work, and how results leave."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from colophony.app.cli import options
from colophony.app.cli.bow import GAUGES, INSTRUMENTS
from colophony.app.cli.outputs import whole_file
from colophony.app.settings import Settings
from colophony.language import _

Command = TypeVar("Command", bound=Callable[..., Any])

#: Where maps are computed.
TARGETS = ("cpu", "cuda", "cluster")
PICTURES = (".svg", ".png")
#: Exit status of a map that somebody stopped: what was finished is written all the same.
STOPPED = 130

_OF_THE_STRING = (
    click.option(
        "--instrument",
        type=click.Choice(INSTRUMENTS),
        help="What is bowed; else the setting COLOPHONY_INSTRUMENT, else a violin.",
    ),
    options.size,
    click.option(
        "--string",
        metavar="|".join(options.STRINGS),
        help="String that is bowed; else the likeliest for the note, else A.",
    ),
    click.option("--note", metavar="NOTE", help='Note that is stopped, such as "C#5"; else the open string.'),
    click.option("--gauge", type=click.Choice(GAUGES), help="Of the string; else medium."),
    click.option("--a4", "a4_hz", metavar="HZ", type=float, help="Tuning of A4; else 440."),
    click.option("--tilt-deg", metavar="DEGREES", type=float, help="Of the hair from flat, 0 to 60; else 0."),
)
_OF_THE_WORK = (
    click.option(
        "--target",
        type=click.Choice(TARGETS),
        help="What computes: this machine's processors, a graphics card, other machines; else cpu.",
    ),
    click.option(
        "--scheduler",
        metavar="ADDRESS",
        help="Of the machines that compute with the target cluster, such as tcp://192.168.0.5:8786.",
    ),
    click.option("--threads", metavar="N", type=int, help="Processors that compute; else all."),
    click.option("--anew", is_flag=True, help="Compute again, although the answer is kept."),
    click.option(
        "--csv",
        "csv_file",
        metavar="OUT.csv",
        type=click.Path(path_type=Path),
        help="Write every cell as a row of a table.",
    ),
    click.option(
        "--picture",
        metavar="OUT.svg|OUT.png",
        type=click.Path(path_type=Path),
        help="Write a picture of the map.",
    ),
    options.reader,
    options.language,
    options.as_json,
)


def of_the_string(command: Command) -> Command:
    """Add the options that say which string is bowed."""
    for option in reversed(_OF_THE_STRING):
        command = option(command)
    return command


def of_the_work(command: Command) -> Command:
    """Add the options that say who computes and where results go."""
    for option in reversed(_OF_THE_WORK):
        command = option(command)
    return command


def outputs(csv_file: Path | None, picture: Path | None) -> dict[str, tuple[Path | None, Any]]:
    """Return the files of a map as `outputs.check_outputs` takes them."""
    return {"--csv": (csv_file, ".csv"), "--picture": (picture, PICTURES)}


def given_of(settings: Settings, instrument: str | None, values: dict[str, Any]) -> dict[str, Any]:
    """Return what a request is made of: what was given, and the instrument of the settings."""
    given = {name: value for name, value in values.items() if value is not None}
    return given | {"instrument": instrument or settings.instrument or "violin"}


def write_files(
    csv_file: Path | None, picture: Path | None, *, table: Callable[[], str], drawing: Callable[[], str]
) -> None:
    """Write table and picture, each whole or not at all, and say so on standard error."""
    if csv_file is not None:
        with whole_file(csv_file) as path:
            path.write_text(table(), encoding="utf-8", newline="")
        click.echo(_("table: {file}").format(file=csv_file), err=True)
    if picture is not None:
        svg = drawing()
        with whole_file(picture) as path:
            if picture.suffix.lower() == ".png":
                from colophony.app.look.raster import svg_to_png

                path.write_bytes(svg_to_png(svg))
            else:
                path.write_text(svg, encoding="utf-8")
        click.echo(_("picture: {file}").format(file=picture), err=True)


def print_json(objects: list[dict[str, Any]]) -> None:
    """Write one object as such, several as a list."""
    told = objects if len(objects) > 1 else objects[0]
    click.echo(json.dumps(told, allow_nan=False))


def say_stopped(done: int, whole: int) -> int:
    """Say on standard error how far a stopped work came, and return its exit status."""
    line = _("colophony: stopped; {done} of {whole} cells are finished and shown")
    click.echo(line.format(done=done, whole=whole), err=True)
    return STOPPED
