"""``colophony strip``: an instrument in, strips to cut out, true to scale, out."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.app.settings import Settings
from colophony.language import _

if TYPE_CHECKING:
    from colophony.app.paper.strip_points import PointStrip
    from colophony.teaching.findings import Reader


@click.command(short_help="Print sounding points and beats, true to scale.")
@click.argument("out", metavar="OUT.pdf", type=click.Path(path_type=Path))
@options.instrument_bowed
@options.size
@click.option(
    "--string",
    "strings",
    metavar="|".join(options.STRINGS),
    multiple=True,
    help="A strip for this string; may be given several times; else one for each.",
)
@click.option(
    "--note",
    "notes",
    metavar="NOTE",
    multiple=True,
    help='A strip for a stopped note too, such as "A5", on the first --string or the likeliest.',
)
@click.option("--speed-cm-s", metavar="CM/S", type=float, help="Of the bow beside the string; else 20.")
@click.option(
    "--weight-n", metavar="N", type=float, help="Of the bow at every point; else what suits each point best."
)
@click.option("--beats", metavar="N", type=int, help="Beats that one bow lasts, for the bow's strip; else 4.")
@click.option("--tempo", metavar="N", type=float, help="Beats a minute; else 60.")
@options.reader
@options.paper
@options.language
@click.pass_context
def strip(
    context: click.Context,
    /,
    out: Path,
    instrument: str | None,
    size: str | None,
    strings: tuple[str, ...],
    notes: tuple[str, ...],
    speed_cm_s: float | None,
    weight_n: float | None,
    beats: int | None,
    tempo: float | None,
    reader: Reader | None,
    paper: Any,
) -> None:
    """Write strips to cut out, true to scale, as OUT.pdf.

    One lies beside the string between bridge and fingerboard: the sounding points of this instrument and
    how far the bow may wander from each. One rides on the stick: where the bow is at each beat.
    """
    check_outputs({"OUT.pdf": (out, ".pdf")}, inputs=())

    from colophony.app.paper import make_strips
    from colophony.app.paper.strip_beats import USUAL_BEATS, USUAL_TEMPO, find_beats

    settings: Settings = context.obj
    name, size = instrument or settings.instrument or "violin", size or "4/4"
    beats, tempo = USUAL_BEATS if beats is None else beats, USUAL_TEMPO if tempo is None else tempo
    bows = [find_beats(name, size, beats=beats, tempo=tempo)]
    points = _points(settings, name, size, strings, notes, speed_cm_s, weight_n)
    with whole_file(out) as path:
        make_strips(
            path,
            points=points,
            beats=bows,
            reader=reader or settings.reader,
            paper=paper,
            date=date.today(),
        )
    click.echo(_("strips, print at 100 %: {file}").format(file=out), err=True)


def _points(
    settings: Settings,
    name: str,
    size: str,
    strings: tuple[str, ...],
    notes: tuple[str, ...],
    speed_cm_s: float | None,
    weight_n: float | None,
) -> list[PointStrip]:
    """Return a strip a string and one a stopped note."""
    from colophony.app.bow import Request
    from colophony.app.kept_maps import KeptMaps
    from colophony.app.paper.strip_points import USUAL_SPEED_CM_S, find_strip
    from colophony.physics.strings import strings_of

    wanted: list[tuple[str | None, str | None]] = [(string, None) for string in strings]
    if not strings and not notes:
        wanted = [(string.name, None) for string in strings_of(name, size)]
    wanted += [(strings[0] if strings else None, note) for note in notes]
    return [
        find_strip(
            Request(instrument=name, size=size, string=string, note=note),
            speed_cm_s=USUAL_SPEED_CM_S if speed_cm_s is None else speed_cm_s,
            weight_n=weight_n,
            kept=KeptMaps(settings.cache / "maps"),
        )
        for string, note in wanted
    ]
