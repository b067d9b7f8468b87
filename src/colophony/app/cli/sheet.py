"""``colophony sheet``: a student's week in, what goes home out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.app.cli.progress import show_strokes
from colophony.app.settings import INSTRUMENTS, Settings
from colophony.language import _

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.records.domain import Student
    from colophony.records.studio import Studio
    from colophony.teaching.findings import Reader
    from colophony.teaching.plans import Plan

_WEEK = 7


@dataclass(frozen=True, slots=True)
class _Week:
    """Whose week it is; nobody's for an instrument alone."""

    plan: Plan
    name: str | None
    reader: Reader | None


@click.command(short_help="Write the week's sheet, with sound and strips.")
@click.argument("student", required=False)
@click.option(
    "--instrument", type=click.Choice(INSTRUMENTS), help="Without a student: a first week for this."
)
@options.size
@click.option(
    "--pdf", metavar="OUT.pdf", type=click.Path(path_type=Path), help="Write the sheet for the music stand."
)
@click.option(
    "--html",
    metavar="OUT.html",
    type=click.Path(path_type=Path),
    help="Write one page with sound that works without network: how it should sound, and how it fails.",
)
@click.option(
    "--strips",
    metavar="OUT.pdf",
    type=click.Path(path_type=Path),
    help="Write strips to cut out, true to scale: sounding points and beats.",
)
@options.reader
@click.option("--large-print", is_flag=True, help="Text of 16 points and more, on as many pages as it takes.")
@click.option("--save-ink", is_flag=True, help="Outlines in place of surfaces.")
@options.paper
@click.option(
    "--next-lesson", metavar="DAY", type=click.DateTime(["%Y-%m-%d"]), help="Shown at the top: 2026-12-08."
)
@options.language
@options.studio_folder
@click.pass_context
def sheet(
    context: click.Context,
    /,
    student: str | None,
    instrument: str | None,
    size: str | None,
    pdf: Path | None,
    html: Path | None,
    strips: Path | None,
    reader: Reader | None,
    large_print: bool,
    save_ink: bool,
    paper: Any,
    next_lesson: datetime | None,
    folder: Path | None,
) -> None:
    """Write what goes home with STUDENT: the week's sheet, a page with sound, strips to cut out.

    The week is that of the latest plan that is kept; without one a plan is made. Without a student,
    --instrument writes an invented first week for it.
    """
    if pdf is None and html is None and strips is None:
        raise click.UsageError(_("say what to write: --pdf OUT.pdf, --html OUT.html or --strips OUT.pdf"))
    if pdf is not None and pdf == strips:
        raise click.UsageError(_("--pdf and --strips name the same file: give each one its own"))
    check_outputs(
        {"--pdf": (pdf, ".pdf"), "--html": (html, ".html"), "--strips": (strips, ".pdf")}, inputs=()
    )
    if student is not None and (instrument or size):
        raise click.UsageError(_("a student has an instrument already: leave --instrument and --size out"))

    from colophony.app.kept_maps import KeptMaps

    settings: Settings = context.obj
    maps = KeptMaps(settings.cache / "maps")
    if student is None:
        week = _first_week(settings, instrument, size, maps)
    else:
        with options.opened(context, folder) as studio:
            week = _week_of(studio, studio.find_student(student), maps)
    whose: Reader = reader or week.reader or settings.reader
    if pdf is not None:
        from colophony.app.paper import make_week_sheet

        with whole_file(pdf) as path:
            make_week_sheet(
                week.plan,
                path,
                student=week.name,
                reader=whose,
                large_print=large_print,
                save_ink=save_ink,
                next_lesson=next_lesson.date() if next_lesson else None,
                paper=paper,
            )
        _say_written(_("sheet: {file}"), pdf)
    if html is not None:
        from colophony.app.week import make_week_page

        page = make_week_page(week.plan, student=week.name, reader=whose)
        with whole_file(html) as path:
            path.write_text(page, encoding="utf-8")
        _say_written(_("page with sound: {file}"), html)
    if strips is not None:
        from colophony.app.paper import make_strips
        from colophony.app.paper.strip_plan import strips_of_plan

        points, beats = strips_of_plan(week.plan, kept=maps)
        with whole_file(strips) as path:
            make_strips(path, points=points, beats=beats, reader=whose, paper=paper, date=date.today())
        _say_written(_("strips, print at 100 %: {file}"), strips)


def _say_written(line: str, file: Path) -> None:
    click.echo(line.format(file=file), err=True)


def _first_week(settings: Settings, instrument: str | None, size: str | None, maps: KeptMaps) -> _Week:
    """Return an invented week for an instrument."""
    from colophony.app.practice import ask_ranges, invented_plan
    from colophony.teaching.exercises.library import library

    chosen = instrument or settings.instrument
    if chosen is None:
        raise click.UsageError(_("name a student of the studio, or an instrument: --instrument violin"))
    with show_strokes() as progress:
        made = invented_plan(
            chosen,
            size or "4/4",
            first_day=date.today(),
            exercises=library(),
            ask=ask_ranges(maps, progress=progress),
        )
    return _Week(made, None, None)


def _week_of(studio: Studio, person: Student, maps: KeptMaps) -> _Week:
    """Return a student's latest week; a new one where none is kept, or one for another instrument."""
    from colophony.app.own_exercises import every_exercise
    from colophony.app.practice import ask_ranges, keep_plan, plan_for_student
    from colophony.teaching.plans import plan_from_plain

    kept = studio.latest_plan(person.id)
    found = None if kept is None else plan_from_plain(kept.content)
    today = date.today()
    if found is not None and (found.instrument, found.size) == (person.instrument, person.size):
        if found.first_day + _WEEK <= today.toordinal():
            line = _("The latest plan begins on {day}; colophony plan makes a new one.")
            click.echo(line.format(day=date.fromordinal(found.first_day).isoformat()), err=True)
        return _Week(found, person.name, person.reader)
    with show_strokes() as progress:
        made = plan_for_student(
            studio,
            person,
            first_day=today,
            exercises=every_exercise(studio),
            ask=ask_ranges(maps, progress=progress),
        )
    if not keep_plan(studio, person, made, made_on=today):
        click.echo(_("This plan is not kept: no consent is recorded (colophony studio consent)."), err=True)
    return _Week(made, person.name, person.reader)
