"""``colophony studio``: the pages, and the care of what is kept on this machine."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from colophony.app.cli import options, students
from colophony.app.settings import Settings
from colophony.errors import StudioError, TakeError
from colophony.language import _, ngettext

if TYPE_CHECKING:
    from colophony.records.studio import Studio


@click.group(short_help="Students, takes and pages on this machine.")
def studio() -> None:
    """Keep students, takes and findings on this machine, and show them as pages in the browser.

    Nothing leaves this machine unless you export or back it up.
    """


@studio.command(short_help="Open the pages in the browser.")
@options.studio_folder
@click.option("--host", help="Address to answer on; else the setting COLOPHONY_HOST (this machine only).")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help="Port; 0 takes any free one; else the setting COLOPHONY_PORT.",
)
@click.option("--browser/--no-browser", default=True, show_default=True, help="Open the browser.")
@click.pass_obj
def serve(settings: Settings, folder: Path | None, host: str | None, port: int | None, browser: bool) -> None:
    """Serve the studio's pages to the browser of this machine until Ctrl-C."""
    try:
        from colophony.app.web.serve import serve as serve_pages

        serve_pages(
            folder or settings.studio,
            host=host or settings.host,
            port=settings.port if port is None else port,
            open_browser=browser,
            maps_folder=settings.cache / "maps",
        )
    except ModuleNotFoundError as error:
        raise StudioError(
            _("the pages need {package}: run pip install '.[studio]' in Colophony's folder").format(
                package=error.name
            )
        ) from error


for command in students.COMMANDS:
    studio.add_command(command)


@studio.command(short_help="Look for damage; put right what can be.")
@options.studio_folder
@click.option("--hear", "hear_them", is_flag=True, help="Also hear the takes that were kept but never heard.")
@click.pass_context
def check(context: click.Context, folder: Path | None, hear_them: bool) -> int:
    """Look at every file and row, sweep what a dead run left, and report.

    Exit status 1 when something is left for you to do.
    """
    with options.opened(context, folder) as kept:
        if hear_them:
            _hear_pending(kept)
        problems = kept.check()
    for problem in problems:
        told = f"{problem.what}; {problem.remedy}" if problem.remedy else problem.what
        click.echo(_("put right: {problem}").format(problem=told) if problem.repaired else told)
    open_problems = sum(not problem.repaired for problem in problems)
    click.echo(_("{n} to do.").format(n=open_problems) if open_problems else _("All is well."))
    return int(open_problems > 0)


def _hear_pending(kept: Studio) -> None:
    from colophony.app.lesson import Request, hear
    from colophony.app.studio import hear_pending

    for take in kept.pending():
        student = kept.student(take.student_id)
        references = tuple(kept.reference_strokes(student.id))
        request = Request(
            student.instrument,
            student.size,
            reference_strokes=references,
            marked=tuple(kept.marked_strokes(student.id)),
        )
        try:
            hear_pending(kept, take, partial(hear, request=request))
        except TakeError as error:
            line = _("not heard: {file} of {name}: {why}")
            click.echo(line.format(file=take.original_name, name=student.name, why=error))
        else:
            click.echo(_("heard: {file} of {name}").format(file=take.original_name, name=student.name))


@studio.command(short_help="Copy the whole studio into one file.")
@options.studio_folder
@click.argument("to", type=click.Path(path_type=Path))
@click.pass_context
def backup(context: click.Context, folder: Path | None, to: Path) -> None:
    """Copy the whole studio into the new file TO, or into a new file in the folder TO.

    A backup holds recordings of your students: keep it as safe as the studio.
    """
    with options.opened(context, folder) as kept:
        click.echo(_("backup: {file}").format(file=kept.backup(to)))


@studio.command(short_help="Make a studio from a backup.")
@options.studio_folder
@click.argument("backup", type=click.Path(path_type=Path))
@click.pass_obj
def restore(settings: Settings, folder: Path | None, backup: Path) -> None:
    """Make a studio from BACKUP, in a folder that holds none yet."""
    from colophony.app.studio import restore_studio

    target = folder or settings.studio
    with restore_studio(backup, target) as kept:
        count = len(kept.students())
        line = ngettext("studio: {folder}, {n} student", "studio: {folder}, {n} students", count)
        click.echo(line.format(folder=target, n=count))


@studio.command(short_help="Write all that is kept of a student to one file.")
@options.studio_folder
@click.argument("student")
@click.argument("to", type=click.Path(path_type=Path))
@click.pass_context
def export(context: click.Context, folder: Path | None, student: str, to: Path) -> None:
    """Write all that is kept of STUDENT to the new file TO, for the student or a parent to have."""
    with options.opened(context, folder) as kept:
        file = kept.export_student(kept.find_student(student).id, to)
        click.echo(_("export: {file}").format(file=file))


@studio.command(short_help="Erase a student, or one take.")
@options.studio_folder
@click.argument("student")
@click.option("--take", "take_id", type=int, help="Only this take; its number is in 'studio takes'.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_context
def erase(context: click.Context, folder: Path | None, student: str, take_id: int | None, yes: bool) -> None:
    """Erase STUDENT with all that is kept of them, or one of their takes. It can't be undone.

    Backups and exports made earlier still hold what is erased here.
    """
    with options.opened(context, folder) as kept:
        person = kept.find_student(student)
        if take_id is not None and kept.take(take_id).student_id != person.id:
            line = _("take {number} is not one of {name}'s; 'studio takes' lists them")
            raise StudioError(line.format(number=take_id, name=person.name))
        what = _("take {number} of {name}") if take_id is not None else _("{name} and all takes")
        what = what.format(number=take_id, name=person.name)
        if not yes:
            click.confirm(_("Erase {what}?").format(what=what), abort=True, err=True)
        gone = kept.erase_student(person.id) if take_id is None else kept.erase_take(take_id)
    line = _("erased: {what}") if gone else _("erased: {what}; the last of it at the next opening")
    click.echo(line.format(what=what))
