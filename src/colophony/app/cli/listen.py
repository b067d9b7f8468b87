"""``colophony listen``: recordings in, findings out."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.outputs import check_outputs, write_whole
from colophony.app.cli.progress import show_progress
from colophony.app.settings import Settings
from colophony.errors import ColophonyError

if TYPE_CHECKING:
    from colophony.teaching.findings import Findings, Reader


@click.command(short_help="Hear recordings; say what to change.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path))
@options.instrument
@options.size
@options.string
@options.a4
@click.option(
    "--reference",
    "references",
    multiple=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Take of this player whose tone the teacher accepts; may be given several times.",
)
@click.option(
    "--expect", metavar="NOTES", type=options.Notes(), help='Notes in the order played: "G3 A3 B3".'
)
@click.option("--first-bow", type=click.Choice(("down", "up")), help="Direction of the first stroke.")
@click.option("--sheet", metavar="OUT.pdf", type=click.Path(path_type=Path), help="Write the sheet for home.")
@click.option(
    "--html",
    metavar="OUT.html",
    type=click.Path(path_type=Path),
    help="Write a page to look at and listen to.",
)
@options.reader
@options.as_json
@click.pass_obj
def listen(
    settings: Settings,
    files: tuple[Path, ...],
    instrument: str | None,
    size: str,
    string: str | None,
    a4_hz: float | None,
    references: tuple[Path, ...],
    expect: tuple[str, ...] | None,
    first_bow: str | None,
    sheet: Path | None,
    html: Path | None,
    reader: Reader | None,
    as_json: bool,
) -> int:
    """Hear recordings of bowed strokes: what the string did, and what to change.

    Any format a phone makes will do. Several files are heard one after another; a bad one is named and
    the others are still reported.
    """
    check_outputs({"--sheet": (sheet, ".pdf"), "--html": (html, ".html")}, inputs=(*files, *references))
    if len(files) > 1 and (sheet or html):
        raise click.UsageError("--sheet and --html take one recording; hear the files one at a time")

    from colophony.app import lesson

    reader = reader or settings.reader
    request = lesson.Request(
        instrument=instrument or settings.instrument,
        size=size,
        string=string,
        a4_hz=a4_hz,
        reference_strokes=(),
        expect=expect or (),
        first_bow=first_bow,
    )
    if references:
        request = replace(request, reference_strokes=lesson.listen_references(references, request))

    objects: list[dict[str, Any]] = []
    failed = False
    for file in files:
        try:
            with show_progress(file.name) as progress:
                findings = lesson.hear(file, request, progress=progress)
        except ColophonyError as error:
            click.echo(f"colophony: {error}", err=True)
            failed = True
            continue
        if as_json:
            objects.append(_as_json(findings, reader))
        else:
            _print(findings, reader, first=file == files[0])
        _write_outputs(findings, file, reader=reader, sheet=sheet, html=html)
    if as_json and objects:
        click.echo(json.dumps(objects if len(files) > 1 else objects[0], allow_nan=False, indent=1))
    return int(failed)


def _as_json(findings: Findings, reader: Reader) -> dict[str, Any]:
    from colophony.app.contract import findings_to_json

    return findings_to_json(findings, reader=reader)


def _print(findings: Findings, reader: Reader, *, first: bool) -> None:
    from colophony.app.cli.table import print_findings

    if not first:
        click.echo()
    print_findings(findings, reader=reader, stream=sys.stdout)


def _write_outputs(
    findings: Findings, file: Path, *, reader: Reader, sheet: Path | None, html: Path | None
) -> None:
    if sheet is not None:
        from colophony.app.paper import make_sheet

        write_whole(sheet, make_sheet(findings, reader=reader))
        click.echo(f"sheet: {sheet}", err=True)
    if html is not None:
        from colophony.app.report import make_report

        write_whole(html, make_report(findings, file, reader=reader).encode())
        click.echo(f"page: {html}", err=True)
