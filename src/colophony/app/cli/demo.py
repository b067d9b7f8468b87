"""``colophony demo``: the main job on the takes that come with Colophony."""

from __future__ import annotations

from pathlib import Path

import click

from colophony.app.cli.listen import listen
from colophony.language import N_, _

TAKES = Path(__file__).parents[1] / "demo"
#: File, instrument, what it is; ``demo/README.md`` has sources and licences.
DEMO = (
    ("violin-long-bows.m4a", "violin", N_("A real recording: four long bows on the violin's open G.")),
    ("cello-four-strings.m4a", "cello", N_("Real recordings: one bow on each string of a cello.")),
    (
        "synthetic-violin-pressed-bow.m4a",
        "violin",
        N_("Synthetic, no recording: a computed violin string, too much weight in the second of three bows."),
    ),
)


@click.command(short_help="Hear the takes that come with Colophony.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("out"),
    show_default=True,
    help="Folder for sheets and pages; made when there is none.",
)
@click.pass_context
def demo(context: click.Context, out: Path) -> None:
    """Hear the bundled takes, print the findings, write a sheet for home and a page of each."""
    out.mkdir(parents=True, exist_ok=True)
    for name, instrument, what in DEMO:
        click.echo(_(what))
        stem = Path(name).stem
        outputs = ("--sheet", str(out / f"{stem}.pdf"), "--html", str(out / f"{stem}.html"))
        arguments = [str(TAKES / name), "--instrument", instrument, *outputs]
        listen.main(arguments, standalone_mode=False, obj=context.obj)
        click.echo()
    click.echo(
        _("Sheets to print and pages to look at and listen to: {folder}").format(folder=out.absolute())
    )
