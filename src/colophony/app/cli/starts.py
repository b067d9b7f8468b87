"""``colophony starts``: a string and a place of the bow in, how a stroke may begin out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import map_options
from colophony.app.cli.outputs import check_outputs
from colophony.app.cli.progress import show_strokes
from colophony.app.cli.stopping import stoppable
from colophony.app.settings import Settings

if TYPE_CHECKING:
    from colophony.teaching.findings import Reader


@click.command(short_help="Compute how a stroke may begin.")
@map_options.of_the_string
@click.option(
    "--distance-mm", metavar="MM", type=float, help="From bridge to bow; else the middle sounding point."
)
@click.option("--weights", metavar="N", type=int, help="Columns of the map; else 24.")
@click.option("--accelerations", metavar="N", type=int, help="Rows of the map; else 48.")
@click.option("--periods", metavar="N", type=int, help="That a start is given; else 45.")
@map_options.of_the_work
@click.pass_context
def starts(
    context: click.Context,
    /,
    instrument: str | None,
    anew: bool,
    csv_file: Path | None,
    picture: Path | None,
    reader: Reader | None,
    as_json: bool,
    **asked: Any,
) -> int:
    """Compute the map of starts of a string: how the tone sets in, over weight and acceleration.

    Says how quickly the bow may set out under each weight so that players accept the start, how long it takes
    until the string sings, and what goes before. Kept and stopped as the maps of 'range'.
    """
    check_outputs(map_options.outputs(csv_file, picture), inputs=())

    from colophony.app import start_words
    from colophony.app.kept_maps import KeptMaps
    from colophony.app.starts import Request, find_starts

    settings: Settings = context.obj
    reader = reader or settings.reader
    with stoppable() as is_stopped, show_strokes(quiet=as_json) as progress:
        found = find_starts(
            Request(**map_options.given_of(settings, instrument, asked)),
            progress=progress,
            is_stopped=is_stopped,
            kept=KeptMaps(settings.cache / "maps"),
            anew=anew,
        )
    cells = found.cells_finished
    if not found.is_finished and cells[0] == 0:
        raise KeyboardInterrupt
    map_options.write_files(
        csv_file,
        picture,
        table=found.to_csv,
        drawing=lambda: start_words.picture(found, reader=reader),
    )
    if as_json:
        map_options.print_json(found.to_json())
    else:
        from colophony.app.cli.map_text import print_starts

        print_starts(found, reader=reader, stream=sys.stdout)
    return 0 if found.is_finished else map_options.say_stopped(*cells)
