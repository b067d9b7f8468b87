"""Commands of ``colophony studio`` that are about a student: who, consent, takes."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.settings import AGE_GROUPS, INSTRUMENTS, READERS
from colophony.language import N_, _, ngettext

if TYPE_CHECKING:
    from colophony.records.domain import FiledTake, Student


@click.command("students", short_help="List the students.")
@options.studio_folder
@options.as_json
@click.pass_context
def list_students(context: click.Context, folder: Path | None, as_json: bool) -> None:
    """List the students with instrument and size, and what may be kept of their takes."""
    with options.opened(context, folder) as kept:
        rows = [
            (student, _keeping(kept.may_keep(student.id), kept.may_keep_sound(student.id)))
            for student in kept.students()
        ]
    if as_json:
        click.echo(json.dumps([_student_json(student, keeping) for student, keeping in rows], indent=1))
        return
    for student, keeping in rows:
        age = _("minor") if student.minor else _("of age")
        line = _("{name}: {instrument} {size}, {age}, kept: {kept}")
        click.echo(
            line.format(
                name=student.name,
                instrument=_(student.instrument),
                size=student.size,
                age=age,
                kept=_(keeping),
            )
        )
    if not rows:
        click.echo(_("No students yet: colophony studio add NAME --instrument violin --minor"))


@click.command(short_help="Add a student.")
@options.studio_folder
@click.argument("name")
@click.option("--instrument", required=True, type=click.Choice(INSTRUMENTS), help="What the student plays.")
@options.size
@click.option("--strings", type=options.Notes(), metavar="NOTES", help="Open strings from low to high.")
@click.option(
    "--minor/--of-age",
    default=None,
    help="A minor's takes are kept with consent only. A student is a minor unless said otherwise.",
)
@click.option(
    "--age-group",
    type=click.Choice(AGE_GROUPS),
    help="Below 7, below 12, below 18, or of age: how long to practise and when to rest.",
)
@click.option("--reader", type=click.Choice(READERS), default="adult", show_default=True, help="Whose words.")
@click.pass_context
def add(
    context: click.Context,
    folder: Path | None,
    name: str,
    instrument: Any,
    size: str | None,
    strings: tuple[str, ...] | None,
    minor: bool | None,
    age_group: Any,
    reader: Any,
) -> None:
    """Add the student NAME."""
    with options.opened(context, folder) as kept:
        student = kept.add_student(
            name,
            instrument=instrument,
            size=size or "4/4",
            strings=strings,
            minor=minor,
            reader=reader,
            age_group=age_group,
        )
        may_keep = kept.may_keep(student.id)
    line = _("added: {name}, {instrument} {size}")
    click.echo(line.format(name=student.name, instrument=_(student.instrument), size=student.size))
    if not may_keep:
        click.echo(
            _("Takes are heard and forgotten until a parent's consent is recorded: colophony studio consent")
        )


@click.command(short_help="Record that takes of a student may be kept.")
@options.studio_folder
@click.argument("student")
@click.option("--given-by", required=True, help="Who gave it.")
@click.option("--relation", required=True, help="What they are to the student: mother, father, herself.")
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), help="Day it was given; else today.")
@click.option("--findings-only", is_flag=True, help="Findings may be kept, recordings not.")
@click.option("--note", default="", help="Anything to remember, such as where the paper lies.")
@click.pass_context
def consent(
    context: click.Context,
    folder: Path | None,
    student: str,
    given_by: str,
    relation: str,
    on: datetime | None,
    findings_only: bool,
    note: str,
) -> None:
    """Record the consent to keep takes of STUDENT. Who may give it is for local law to say."""
    with options.opened(context, folder) as kept:
        person = kept.find_student(student)
        kept.record_consent(
            person.id,
            given_by=given_by,
            relation=relation,
            on=on.date() if on else date.today(),
            keep_sound=not findings_only,
            note=note,
        )
        keeping = _keeping(kept.may_keep(person.id), kept.may_keep_sound(person.id))
    click.echo(_("consent recorded: {name}, kept: {kept}").format(name=person.name, kept=_(keeping)))


@click.command(short_help="Withdraw the consent.")
@options.studio_folder
@click.argument("student")
@click.pass_context
def withdraw(context: click.Context, folder: Path | None, student: str) -> None:
    """Withdraw the consent for STUDENT: a minor's recordings are erased at once."""
    with options.opened(context, folder) as kept:
        person = kept.find_student(student)
        outcome = kept.withdraw_consent(person.id, on=date.today())
    erased = outcome.erased_sounds + outcome.erased_pending
    line = _(
        "consent withdrawn: {name}; recordings erased: {erased}, recordings still kept: {sounds}, "
        "findings still kept: {findings}, plans and results still kept: {practice}"
    )
    click.echo(
        line.format(
            name=person.name,
            erased=erased,
            sounds=outcome.kept_sounds,
            findings=outcome.kept_findings,
            practice=outcome.kept_practice,
        )
    )
    if outcome.kept_findings or outcome.kept_practice:
        click.echo(_('To erase those too: colophony studio erase "{name}"').format(name=person.name))


@click.command(short_help="List a student's takes.")
@options.studio_folder
@click.argument("student")
@options.as_json
@click.pass_context
def takes(context: click.Context, folder: Path | None, student: str, as_json: bool) -> None:
    """List the takes of STUDENT, newest first."""
    with options.opened(context, folder) as kept:
        filed = kept.takes(kept.find_student(student).id)
    if as_json:
        click.echo(json.dumps([_take_json(take) for take in filed], indent=1))
        return
    for take in filed:
        day = take.taken_at.astimezone().strftime("%Y-%m-%d %H:%M")
        click.echo(f"{take.id}: {day}, {take.original_name}, {_describe(take)}")
    if not filed:
        click.echo(_("No takes yet: colophony listen FILE --student NAME"))


@click.command(short_help="Say whether a reference take's tone is accepted.")
@options.studio_folder
@click.argument("take_id", type=int, metavar="TAKE")
@click.option("--no-longer", is_flag=True, help="Not any more.")
@click.pass_context
def accept(context: click.Context, folder: Path | None, take_id: int, no_longer: bool) -> None:
    """Accept the tone of TAKE as this player's own: later takes are heard against it."""
    with options.opened(context, folder) as kept:
        take = kept.accept_reference(take_id, not no_longer)
    click.echo(_("take {number}: {what}").format(number=take.id, what=_describe(take)))


@click.command(short_help="Record the tone to compare with, at marked places.")
@options.studio_folder
@click.argument("student")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--string", metavar="LETTER", help="Open string that was played.")
@click.option("--point", type=float, help="Sounding point on the printed strip, 1 (at the bridge) to 5.")
@click.option("--beats", type=float, default=4.0, show_default=True, help="Beats that one whole bow lasts.")
@click.option("--tempo", type=float, default=60.0, show_default=True, help="Beats a minute.")
@click.option("--hair-mm", type=float, help="Length of the hair; else that of a bow of the size.")
@click.option("--accept", "accept_it", is_flag=True, help="The tone is accepted, if the take fits.")
@click.pass_context
def reference(
    context: click.Context,
    folder: Path | None,
    student: str,
    file: Path | None,
    string: str | None,
    point: float | None,
    beats: float,
    tempo: float,
    hair_mm: float | None,
    accept_it: bool,
) -> int:
    """Keep FILE as STUDENT's own tone at a marked place, or say what is to be played.

    Four whole bows on an open string, each in so many beats, at a sounding point of the printed strip: then
    speed and place are known, and later takes are heard against them. Without FILE the takes are listed.
    """
    from colophony.app.reference import keep_marked, steps

    with options.opened(context, folder) as kept:
        person = kept.find_student(student)
        if file is None:
            for step in steps(kept, person, beats=beats, tempo=tempo):
                click.echo(step.line())
            return 0
        if string is None or point is None:
            raise click.UsageError(_("say where FILE was played: --string and --point"))
        heard = keep_marked(
            kept,
            person,
            file,
            string=string,
            point=point,
            beats=beats,
            tempo=tempo,
            hair_mm=hair_mm,
            accept=accept_it,
            maps=context.obj.cache / "maps",
        )
    click.echo(_("take {number}: {what}").format(number=heard.take.id, what=_describe(heard.take)))
    click.echo(heard.says)
    if heard.fits and not heard.take.accepted:
        click.echo(_("When you like the tone: colophony studio accept {number}").format(number=heard.take.id))
    return 0 if heard.fits else 1


COMMANDS = (list_students, add, consent, withdraw, takes, accept, reference)


def _keeping(findings: bool, sound: bool) -> str:
    return N_("recordings and findings") if sound else N_("findings") if findings else N_("nothing")


def _describe(take: FiledTake) -> str:
    words: list[str] = [_("reference, accepted") if take.accepted else _(take.purpose)]
    if take.status == "pending":
        words.append(_("not heard yet"))
    if take.strokes is not None:
        words.append(ngettext("{n} stroke", "{n} strokes", take.strokes).format(n=take.strokes))
    if take.clean_share is not None:
        words.append(_("{share} clean").format(share=f"{100 * take.clean_share:.0f} %"))
    if not take.sound_kept:
        words.append(_("recording not kept"))
    return ", ".join(words)


def _student_json(student: Student, keeping: str) -> dict[str, Any]:
    return {
        "name": student.name,
        "instrument": student.instrument,
        "size": student.size,
        "strings": list(student.strings),
        "minor": student.minor,
        "age_group": student.age_group,
        "reader": student.reader,
        "kept": keeping,
    }


def _take_json(take: FiledTake) -> dict[str, Any]:
    return {
        "take": take.id,
        "taken_at": take.taken_at.isoformat(),
        "file": take.original_name,
        "purpose": take.purpose,
        "accepted": take.accepted,
        "status": take.status,
        "sound_kept": take.sound_kept,
        "duration_s": take.duration_s,
        "strokes": take.strokes,
        "clean_share": take.clean_share,
    }
