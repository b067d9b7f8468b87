"""``colophony score``: a score in, the bow plan of a part out."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.bow import INSTRUMENTS
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.app.settings import Settings
from colophony.errors import InputError
from colophony.language import N_, _

if TYPE_CHECKING:
    from colophony.app.score.plan import Progress
    from colophony.app.score.values import PlannedScore
    from colophony.teaching.findings import Reader

#: Shorter work needs no bar.
_PATIENCE_S = 2.0
_STAGES = {"maps": N_("asking the strings"), "strokes": N_("planning the strokes")}


@click.command(short_help="Plan the bow of a piece.")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--part", metavar="NAME|N", help="Name or number of the part; else the instrument's first.")
@click.option(
    "--instrument",
    type=click.Choice(INSTRUMENTS),
    help="What plays it; else the setting COLOPHONY_INSTRUMENT, else a violin.",
)
@options.size
@click.option("--bow-mm", metavar="MM", type=float, help="Length of the bow's hair; else that of the size.")
@click.option(
    "--tempo", metavar="N", type=float, help="Quarter notes a minute at the start; else as the page says."
)
@click.option("--a4", "a4_hz", metavar="HZ", type=float, help="Tuning of A4; else 440.")
@click.option(
    "--published",
    is_flag=True,
    help="Go by the published limits of weight instead of asking this instrument's strings: at once.",
)
@click.option(
    "--annotated",
    metavar="OUT.musicxml",
    type=click.Path(path_type=Path),
    help="Write the score with the plan in it, for notation programs.",
)
@click.option(
    "--picture",
    metavar="OUT.svg|OUT.png",
    type=click.Path(path_type=Path),
    help="Write the page with the bow's way under it.",
)
@options.reader
@options.as_json
@click.pass_context
def score(
    context: click.Context,
    /,
    file: Path,
    instrument: str | None,
    published: bool,
    annotated: Path | None,
    picture: Path | None,
    reader: Reader | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Plan the bow of a piece: directions, hair, speed, place and weight of every stroke.

    FILE is MusicXML (.musicxml, .xml, .mxl) or MIDI (.mid). Given bow signs are kept, the rest is inferred.
    Says where the bow runs out and what to do about it.
    """
    check_outputs(
        {
            "--annotated": (annotated, (".musicxml", ".xml")),
            "--picture": (picture, (".svg", ".png")),
        },
        inputs=(file,),
    )

    from colophony.app.kept_maps import KeptMaps
    from colophony.app.score.opening import read_score
    from colophony.app.score.plan import plan_score
    from colophony.app.score.values import Request

    settings: Settings = context.obj
    reader = reader or settings.reader
    given = {name: value for name, value in asked.items() if value is not None}
    request = Request(instrument=instrument or settings.instrument or "violin", **given)
    with _progress(quiet=as_json) as progress:
        planned = plan_score(
            read_score(_bytes(file), name=file.name),
            request,
            kept=KeptMaps(settings.cache / "maps"),
            computed=not published,
            progress=progress,
        )
    _write_outputs(planned, annotated=annotated, picture=picture)
    if as_json:
        from colophony.app.score.plan import planned_to_json

        click.echo(json.dumps(planned_to_json(planned, reader=reader), allow_nan=False, ensure_ascii=False))
    else:
        from colophony.app.cli.score_text import print_plan

        print_plan(planned, reader=reader, stream=sys.stdout)


def _bytes(file: Path) -> bytes:
    """Return a file's bytes, and a little more than is allowed at most."""
    from colophony.app.score.opening import MOST_BYTES

    try:
        with file.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise InputError(_("{name} is a folder; give a file").format(name=file)) from None
    except FileNotFoundError:
        raise InputError(_("{name}: there is no such file").format(name=file)) from None


def _write_outputs(planned: PlannedScore, *, annotated: Path | None, picture: Path | None) -> None:
    if annotated is not None:
        from colophony.app.score.annotated import annotated as written

        with whole_file(annotated) as path:
            path.write_text(written(planned), encoding="utf-8")
        click.echo(_("score: {name}").format(name=annotated), err=True)
    if picture is not None:
        from colophony.app.score.picture import picture as drawn

        svg = drawn(planned)
        with whole_file(picture) as path:
            if picture.suffix.lower() == ".png":
                from colophony.app.look.raster import svg_to_png

                path.write_bytes(svg_to_png(svg))
            else:
                path.write_text(svg, encoding="utf-8")
        click.echo(_("picture: {name}").format(name=picture), err=True)


@contextmanager
def _progress(*, quiet: bool) -> Iterator[Progress | None]:
    """Yield what is told how far the plan is; None where nobody watches. A bar shows after two seconds."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from time import monotonic

    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
    from rich.progress import Progress as Bar

    begin = monotonic()
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), MofNCompleteColumn())
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1, visible=False)

        def show(stage: str, done: int, whole: int) -> None:
            bar.update(
                task,
                completed=done,
                total=whole,
                description=_(_STAGES[stage]),
                visible=monotonic() - begin > _PATIENCE_S,
            )

        yield show
