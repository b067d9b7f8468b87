"""``colophony range``: a string and a speed in, the room that the player has out."""

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


@click.command("range", short_help="Compute how much room the player has.")
@map_options.of_the_string
@click.option(
    "--speed-cm-s",
    "speeds_cm_s",
    metavar="CM/S",
    type=float,
    multiple=True,
    help="Of the bow; else 20. May be given several times, for a map of each.",
)
@click.option("--distances", metavar="N", type=int, help="Rows of the map: contact distances; else 40.")
@click.option("--weights", metavar="N", type=int, help="Columns of the map; else 50.")
@click.option("--periods", metavar="N", type=int, help="Length of each stroke in periods; else 100.")
@click.option(
    "--repeats",
    metavar="N",
    type=int,
    help="Further tries of cells at odds with a neighbour, each begun a little differently; else 0.",
)
@map_options.of_the_work
@click.pass_context
def range_map(
    context: click.Context,
    /,
    instrument: str | None,
    speeds_cm_s: tuple[float, ...],
    anew: bool,
    csv_file: Path | None,
    picture: Path | None,
    reader: Reader | None,
    as_json: bool,
    **asked: Any,
) -> int:
    """Compute the map of a string: where it sings, over contact distance and weight at a speed.

    Says how much room there is at each sounding point: which weight speaks, and how far weight, place and
    speed may wander. A map is kept, and computed only once. Ctrl-C stops the work and shows what is finished
    (exit status 130).
    """
    check_outputs(map_options.outputs(csv_file, picture), inputs=())

    from colophony.app import range_words
    from colophony.app.kept_maps import KeptMaps
    from colophony.app.ranges import Request, find_ranges

    settings: Settings = context.obj
    reader = reader or settings.reader
    given = map_options.given_of(settings, instrument, asked)
    if speeds_cm_s:
        given["speeds_cm_s"] = speeds_cm_s
    with stoppable() as is_stopped, show_strokes(quiet=as_json) as progress:
        ranges = find_ranges(
            Request(**given),
            progress=progress,
            is_stopped=is_stopped,
            kept=KeptMaps(settings.cache / "maps"),
            anew=anew,
        )
    cells = ranges.cells_finished
    if not ranges.is_finished and cells[0] == 0:
        raise KeyboardInterrupt
    map_options.write_files(
        csv_file,
        picture,
        table=ranges.to_csv,
        drawing=lambda: range_words.picture(ranges, reader=reader),
    )
    if as_json:
        map_options.print_json(ranges.to_json())
    else:
        from colophony.app.cli.map_text import print_ranges

        print_ranges(ranges, reader=reader, stream=sys.stdout)
    return 0 if ranges.is_finished else map_options.say_stopped(*cells)
