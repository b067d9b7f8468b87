"""``colophony listen``: recordings in, findings out."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.lines import print_error
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.app.cli.progress import show_progress
from colophony.app.settings import Settings
from colophony.errors import ColophonyError
from colophony.language import _

if TYPE_CHECKING:
    from colophony.listening.take import Direction, Instrument, Stroke
    from colophony.records.domain import FiledTake, Purpose
    from colophony.records.studio import Studio
    from colophony.teaching.exercises.exercise import Exercise, Passed
    from colophony.teaching.findings import Findings, Reader
    from colophony.teaching.reference import MarkedStroke


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
@click.option("--student", metavar="NAME", help="File the takes with this student of the studio.")
@click.option(
    "--accept-reference", is_flag=True, help="With --student: the tone is accepted as this player's own."
)
@click.option(
    "--exercise",
    metavar="KEY",
    help="Also say whether the take passes this exercise ('colophony plan --list' names them).",
)
@click.option(
    "--whole-bows",
    is_flag=True,
    help="With --student and takes at marked places: every stroke used all of the hair.",
)
@click.option(
    "--same-microphone",
    is_flag=True,
    help="With --student and takes at marked places: it lies where it lay for these.",
)
@options.studio_folder
@options.reader
@options.language
@options.as_json
@click.pass_context
def listen(
    context: click.Context,
    files: tuple[Path, ...],
    instrument: Instrument | None,
    size: str | None,
    string: str | None,
    a4_hz: float | None,
    references: tuple[Path, ...],
    expect: tuple[str, ...] | None,
    first_bow: Direction | None,
    sheet: Path | None,
    html: Path | None,
    student: str | None,
    accept_reference: bool,
    exercise: str | None,
    whole_bows: bool,
    same_microphone: bool,
    folder: Path | None,
    reader: Reader | None,
    as_json: bool,
) -> int:
    """Hear recordings of bowed strokes: what the string did, and what to change.

    Any format a phone makes will do. Several files are heard one after another; a bad one is named and
    the others are still reported. With --student the takes are kept as far as consent allows, and heard
    against that player's accepted tone.
    """
    check_outputs({"--sheet": (sheet, ".pdf"), "--html": (html, ".html")}, inputs=(*files, *references))
    if len(files) > 1 and (sheet or html):
        raise click.UsageError(_("--sheet and --html take one recording; hear the files one at a time"))
    if accept_reference and student is None:
        raise click.UsageError(_("--accept-reference needs --student"))

    from colophony.app import lesson
    from colophony.app.kept_maps import KeptMaps

    settings: Settings = context.obj
    kept = KeptMaps(settings.cache / "maps")
    with _pupil(context, folder, student, accept_reference=accept_reference) as pupil:
        request = lesson.Request(
            instrument=instrument or pupil.instrument or settings.instrument,
            size=size or pupil.size or "4/4",
            string=string,
            a4_hz=a4_hz,
            reference_strokes=pupil.reference_strokes,
            expect=expect or (),
            first_bow=first_bow,
            marked=pupil.marked,
            whole_bows=whole_bows,
            same_microphone=same_microphone,
        )
        if references:
            more = lesson.listen_references(references, request)
            request = replace(request, reference_strokes=(*pupil.reference_strokes, *more))

        rule = pupil.find_exercise(exercise) if exercise else None
        if rule is not None:
            request = lesson.for_stroke(request, rule.stroke)
        objects: list[dict[str, Any]] = []
        failed = False
        for file in files:
            try:
                with show_progress(file.name) as progress:
                    hear = partial(lesson.hear, request=request, progress=progress, kept=kept)
                    findings = pupil.hear(file, hear)
            except ColophonyError as error:
                print_error(error)
                failed = True
                continue
            passed = pupil.check(findings, rule, request.instrument, request.size) if rule else None
            if as_json:
                objects.append(_as_json(findings, passed, reader or settings.reader))
            else:
                _print(findings, reader or settings.reader, first=file == files[0])
                _print_passed(rule, passed, reader or settings.reader)
            _write_outputs(findings, file, pupil, reader=reader or pupil.reader, sheet=sheet, html=html)
    if as_json and objects:
        click.echo(json.dumps(objects if len(files) > 1 else objects[0], allow_nan=False, indent=1))
    return int(failed)


class _Nobody:
    """A take of nobody in particular: it is heard, and nothing of it is kept."""

    name: str | None = None
    instrument: Instrument | None = None
    size: str | None = None
    reader: Reader = "adult"  # who reads a sheet at home, most often
    reference_strokes: tuple[Stroke, ...] = ()
    marked: tuple[MarkedStroke, ...] = ()

    def hear(self, file: Path, hear: Callable[[Path], Findings]) -> Findings:
        return hear(file)

    def find_exercise(self, key: str) -> Exercise:
        from colophony.teaching.exercises.library import find_exercise, library

        return find_exercise(key, library())

    def check(
        self, findings: Findings, exercise: Exercise, instrument: Instrument | None, size: str
    ) -> Passed:
        from colophony.app.practice import check_findings

        return check_findings(findings, exercise, instrument=instrument, size=size)


class _Pupil(_Nobody):
    """A student of the studio: takes are kept as far as consent goes, and said so on standard error."""

    def __init__(self, studio: Studio, name: str, *, accept_reference: bool) -> None:
        self._studio, self._student = studio, studio.find_student(name)
        self._accept = accept_reference
        self.name, self.reader = self._student.name, self._student.reader
        self.instrument, self.size = self._student.instrument, self._student.size
        self.reference_strokes = tuple(studio.reference_strokes(self._student.id))
        self.marked = tuple(studio.marked_strokes(self._student.id))
        self._take: FiledTake | None = None  # what the last recording was filed as

    def hear(self, file: Path, hear: Callable[[Path], Findings]) -> Findings:
        from colophony.app.studio import hear_and_file

        purpose: Purpose = "reference" if self._accept else "practice"
        heard = hear_and_file(self._studio, self._student, file, hear, purpose=purpose)
        self._take = heard.take
        if heard.take is None:
            line = _("not kept: {name} is a minor without consent; 'colophony studio consent' records it")
            click.echo(line.format(name=self.name), err=True)
        else:
            if self._accept:
                self._studio.accept_reference(heard.take.id, True)
            line = (
                _("kept for {name}: recording and findings, take {number}")
                if heard.kept == "sound"
                else _("kept for {name}: findings, take {number}")
            )
            click.echo(line.format(name=self.name, number=heard.take.id), err=True)
        return heard.findings

    def find_exercise(self, key: str) -> Exercise:
        from colophony.app.own_exercises import every_exercise
        from colophony.teaching.exercises.library import find_exercise

        return find_exercise(key, every_exercise(self._studio))

    def check(
        self, findings: Findings, exercise: Exercise, instrument: Instrument | None, size: str
    ) -> Passed:
        from colophony.app.practice import keep_passed

        passed = super().check(findings, exercise, instrument, size)
        if self._take is not None and passed.outcome != "cannot-say":
            on = self._take.taken_at.astimezone().date()
            keep_passed(self._studio, self._student, passed, on=on, take_id=self._take.id)
        return passed


@contextmanager
def _pupil(
    context: click.Context, folder: Path | None, name: str | None, *, accept_reference: bool
) -> Iterator[_Nobody]:
    if name is None:
        yield _Nobody()
        return
    with options.opened(context, folder) as studio:
        yield _Pupil(studio, name, accept_reference=accept_reference)


def _as_json(findings: Findings, passed: Passed | None, reader: Reader) -> dict[str, Any]:
    from colophony.app.contract import findings_to_json

    told = findings_to_json(findings, reader=reader)
    if passed is not None:
        from colophony.app.practice import passed_to_json

        told["exercise"] = passed_to_json(passed)
    return told


def _print(findings: Findings, reader: Reader, *, first: bool) -> None:
    from colophony.app.cli.table import print_findings

    if not first:
        click.echo()
    print_findings(findings, reader=reader, stream=sys.stdout)


def _print_passed(exercise: Exercise | None, passed: Passed | None, reader: Reader) -> None:
    if exercise is None or passed is None:
        return
    from colophony.app.own_exercises import title_of
    from colophony.teaching.exercises.words import passed_words, stroke_check_words

    click.echo()
    click.echo(f"{title_of(exercise)}: {passed_words(passed, reader)}")
    for check in passed.strokes:
        if check.why:
            click.echo(f"  {stroke_check_words(check, reader)}")


def _write_outputs(
    findings: Findings, file: Path, pupil: _Nobody, *, reader: Reader, sheet: Path | None, html: Path | None
) -> None:
    if sheet is not None:
        from colophony.app.paper import make_sheet

        with whole_file(sheet) as path:
            make_sheet(findings, path, student=pupil.name, date=date.today(), reader=reader)
        click.echo(_("sheet: {file}").format(file=sheet), err=True)
    if html is not None:
        from colophony.app.report import make_report

        with whole_file(html) as path:
            text = make_report(findings, sound=file, reader=reader, student=pupil.name)
            path.write_text(text, encoding="utf-8")
        click.echo(_("page: {file}").format(file=html), err=True)
