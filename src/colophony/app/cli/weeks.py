"""``colophony progress``: what changed over a student's weeks, and the report of it."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click

from colophony.app.cli import options
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.language import _


@click.command(short_help="Show what changed over a student's weeks.")
@options.studio_folder
@click.argument("student")
@click.option(
    "--since", metavar="DAY", type=click.DateTime(["%Y-%m-%d"]), help="Only takes from this day: 2026-03-14."
)
@options.reader
@click.option("--pdf", type=click.Path(path_type=Path), help="Write the report, one page to print or send.")
@options.paper
@options.language
@options.as_json
@click.pass_context
def progress(
    context: click.Context,
    folder: Path | None,
    student: str,
    since: datetime | None,
    reader: Any,
    pdf: Path | None,
    paper: Any,
    as_json: bool,
) -> None:
    """Show what changed over the weeks of STUDENT, against the student's own earlier takes alone.

    A change is named only where it stands out of the ups and downs from day to day.
    """
    from colophony.app.progress import (
        headline,
        looked_at,
        measures_shown,
        next_steps,
        progress_of,
        progress_to_json,
        rarer_fault,
    )

    check_outputs({"--pdf": (pdf, ".pdf")}, inputs=())
    whose = reader or context.obj.reader
    with options.opened(context, folder) as kept:
        found = kept.find_student(student)
        shown = progress_of(kept, found, since=since.date() if since else None)
    if pdf is not None:
        from colophony.app.paper.progress import make_progress_report

        with whole_file(pdf) as draft:
            make_progress_report(shown, draft, on=date.today(), reader=reader or found.reader, paper=paper)
    if as_json:
        click.echo(json.dumps(progress_to_json(shown), indent=1, ensure_ascii=False))
        return
    said = headline(shown, reader=whose)
    sentences = [measure.sentence for measure in measures_shown(shown, reader=whose)]
    told = [said, looked_at(shown), *(line for line in sentences if line != said)]
    for line in (*told, rarer_fault(shown, reader=whose)):
        if line:
            click.echo(line)
    for item in shown.passed:
        click.echo(_("Passed on {day}: {exercise}").format(day=item.on.isoformat(), exercise=item.title))
    for step in next_steps(shown):
        click.echo(_("Next: {exercise}").format(exercise=step))
    if pdf is not None:
        click.echo(_("written: {file}").format(file=pdf))
