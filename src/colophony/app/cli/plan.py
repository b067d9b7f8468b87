"""``colophony plan``: a student in, the week's exercises out."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.lines import print_error
from colophony.app.cli.progress import show_strokes
from colophony.app.settings import AGE_GROUPS, INSTRUMENTS, Settings
from colophony.errors import InputError
from colophony.language import _

if TYPE_CHECKING:
    from colophony.records.domain import Student
    from colophony.records.studio import Studio
    from colophony.teaching.exercises.exercise import Exercise
    from colophony.teaching.findings import Reader
    from colophony.teaching.plans import AgeGroup, Plan

_MOST_BYTES = 1_000_000


@click.command(short_help="Plan a student's week of exercises.")
@click.argument("student", required=False)
@click.option(
    "--instrument", type=click.Choice(INSTRUMENTS), help="Without a student: a first week for this."
)
@options.size
@click.option("--minutes", metavar="N", type=float, help="A day, rests included; else what suits the age.")
@click.option(
    "--age",
    "age_group",
    type=click.Choice(AGE_GROUPS),
    help="Below 7, 7 to 11, 12 to 17, 18 and more; else as the studio knows it, or as the size lets expect.",
)
@click.option(
    "--from", "first_day", type=click.DateTime(["%Y-%m-%d"]), help="First day of the week; else today."
)
@click.option(
    "--exercises",
    "file",
    metavar="FILE.toml",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Exercises of your own, checked and used beside the library.",
)
@click.option("--list", "as_list", is_flag=True, help="List the exercises instead of planning.")
@options.reader
@options.language
@options.studio_folder
@options.as_json
@click.pass_context
def plan(
    context: click.Context,
    /,
    student: str | None,
    instrument: str | None,
    size: str | None,
    minutes: float | None,
    age_group: AgeGroup | None,
    first_day: datetime | None,
    file: Path | None,
    as_list: bool,
    reader: Reader | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Plan the week of STUDENT: what to keep, what to change, which exercises on which day, and why.

    Targets are computed for the student's instrument: place, weight, speed and tilt. The plan comes from the
    last takes and from what was passed, and is kept with the student where consent allows it. Without a
    student, --instrument plans an invented first week.
    """
    settings: Settings = context.obj
    own = _read_own(file)
    if own is None:
        return 1
    if student is not None and (instrument or size):
        raise click.UsageError(_("a student has an instrument already: leave --instrument and --size out"))
    day = first_day.date() if first_day else date.today()
    asked = {"minutes": minutes, "age_group": age_group, "first_day": day}
    if as_list:
        return _list(_listed(context, folder, own), reader or settings.reader, as_json=as_json)
    if student is not None:
        with options.opened(context, folder) as studio:
            person = studio.find_student(student)
            made, kept = _for_student(settings, studio, person, own, asked, quiet=as_json)
        if reader is None:
            reader = person.reader
    else:
        made, kept = (
            _invented(settings, instrument or settings.instrument, size, own, asked, quiet=as_json),
            None,
        )
    if as_json:
        from colophony.app.practice import plan_to_json

        name = {} if student is None else {"student": person.name, "kept": kept}
        click.echo(json.dumps(name | plan_to_json(made), indent=1, ensure_ascii=False))
        return 0
    from colophony.app.cli.plan_text import print_plan

    print_plan(
        made, name=person.name if student else None, reader=reader or settings.reader, stream=sys.stdout
    )
    if kept is False:
        click.echo(_("This plan is not kept: no consent is recorded (colophony studio consent)."), err=True)
    return 0


def _for_student(
    settings: Settings,
    studio: Studio,
    person: Student,
    own: Sequence[Exercise],
    asked: dict[str, Any],
    *,
    quiet: bool,
) -> tuple[Plan, bool]:
    from colophony.app.kept_maps import KeptMaps
    from colophony.app.practice import ask_ranges, keep_plan, plan_for_student

    with show_strokes(quiet=quiet) as progress:
        made = plan_for_student(
            studio,
            person,
            exercises=_exercises(studio, own),
            ask=ask_ranges(KeptMaps(settings.cache / "maps"), progress=progress),
            **asked,
        )
    return made, keep_plan(studio, person, made, made_on=date.today())


def _invented(
    settings: Settings,
    instrument: str | None,
    size: str | None,
    own: Sequence[Exercise],
    asked: dict[str, Any],
    *,
    quiet: bool,
) -> Plan:
    from colophony.app.kept_maps import KeptMaps
    from colophony.app.practice import ask_ranges, invented_plan

    if instrument is None:
        raise click.UsageError(_("name a student of the studio, or an instrument: --instrument violin"))
    with show_strokes(quiet=quiet) as progress:
        return invented_plan(
            instrument,
            size or "4/4",
            exercises=_exercises(None, own),
            ask=ask_ranges(KeptMaps(settings.cache / "maps"), progress=progress),
            **asked,
        )


def _exercises(studio: Studio | None, own: Sequence[Exercise]) -> tuple[Exercise, ...]:
    """Return the library, the studio's own and those of a file, which go before others of equal key."""
    from colophony.app.own_exercises import every_exercise
    from colophony.teaching.exercises.library import library

    found = {one.key: one for one in (library() if studio is None else every_exercise(studio))}
    return tuple((found | {one.key: one for one in own}).values())


def _listed(context: click.Context, folder: Path | None, own: Sequence[Exercise]) -> tuple[Exercise, ...]:
    """Return every exercise; those of the studio only where there is one already."""
    if not (folder or context.obj.studio).exists():
        return _exercises(None, own)
    with options.opened(context, folder) as studio:
        return _exercises(studio, own)


def _read_own(file: Path | None) -> tuple[Exercise, ...] | None:
    """Return the exercises of a file; None, with every mistake named, where it has any."""
    if file is None:
        return ()
    from colophony.teaching.exercises.library import library, read_exercises
    from colophony.teaching.exercises.reading import MistakesError

    if file.stat().st_size > _MOST_BYTES:
        raise InputError(_("{file} is larger than a megabyte: give a file of exercises").format(file=file))
    try:
        text = file.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise InputError(_("{file} is no text in UTF-8: save it as such").format(file=file)) from None
    try:
        return read_exercises(text, place=file.name, known=[one.key for one in library()])
    except MistakesError as error:
        for line in error.lines:
            print_error(line)
        return None


def _list(exercises: Sequence[Exercise], reader: Reader, *, as_json: bool) -> int:
    if as_json:
        from colophony.teaching.exercises.exercise import to_plain

        click.echo(json.dumps([to_plain(one) for one in exercises], indent=1, ensure_ascii=False))
        return 0
    from colophony.app.cli.plan_text import print_exercises

    print_exercises(exercises, reader=reader, stream=sys.stdout)
    return 0
