"""``colophony bow``: a stroke in, what the string does out."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony.app.cli import options
from colophony.app.cli.outputs import check_outputs, whole_file
from colophony.app.settings import Settings
from colophony.language import _, figures

if TYPE_CHECKING:
    from colophony.app.bow import Bowed
    from colophony.teaching.findings import Reader

INSTRUMENTS = ("violin", "viola", "cello", "double bass")
GAUGES = ("light", "medium", "heavy")
#: The names of `colophony.physics.friction.LAWS`, which takes too long to load for help.
FRICTION = ("van_walstijn_2026", "mcintyre_1979", "smith_2000")
INGREDIENTS = ("torsion", "stiffness", "hair", "body")


@click.command(short_help="Simulate a stroke; say what the string does.")
@click.option(
    "--instrument",
    type=click.Choice(INSTRUMENTS),
    help="What is bowed; else the setting COLOPHONY_INSTRUMENT, else a violin.",
)
@options.size
@click.option(
    "--string",
    metavar="|".join(options.STRINGS),
    help="String that is bowed; else the likeliest for the note, else A.",
)
@click.option("--note", metavar="NOTE", help='Note that is stopped, such as "C#5"; else the open string.')
@click.option("--gauge", type=click.Choice(GAUGES), help="Of the string; else medium.")
@click.option("--a4", "a4_hz", metavar="HZ", type=float, help="Tuning of A4; else 440.")
@click.option(
    "--distance-mm", metavar="MM", type=float, help="From bridge to bow; else the middle sounding point."
)
@click.option("--speed-cm-s", metavar="CM/S", type=float, help="Of the bow; else 20.")
@click.option(
    "--weight-n",
    metavar="N",
    type=float,
    help="Of the bow on the string; else two fifths of the greatest that suits place and speed.",
)
@click.option("--tilt-deg", metavar="DEGREES", type=float, help="Of the hair from flat, 0 to 60; else 0.")
@click.option("--seconds", metavar="S", type=float, help="How long the bow moves; else 1.")
@click.option(
    "--start-ms",
    metavar="MS",
    type=float,
    help="From rest to full speed; else what suits the weight (Guettler 2002).",
)
@click.option(
    "--friction",
    type=click.Choice(FRICTION),
    help=f"Law of the rosin; else {FRICTION[0]}.",
)
@click.option(
    "--without",
    type=click.Choice(INGREDIENTS),
    multiple=True,
    help="Leave out a part of the model; may be given several times.",
)
@click.option(
    "--target",
    type=click.Choice(("cpu", "python", "cuda")),
    help="What computes: this processor, plain Python (slow, to compare), a graphics card; else cpu.",
)
@click.option("--wav", metavar="OUT.wav", type=click.Path(path_type=Path), help="Write the sound.")
@click.option(
    "--room",
    "room_s",
    metavar="S",
    type=float,
    help="With --wav: a room with this reverberation time, such as 0.5 (practice room) or 2 (hall).",
)
@click.option(
    "--gain-db",
    metavar="DB",
    type=float,
    help="With --wav: the gain that another stroke had, to compare their loudness; else to a safe level.",
)
@click.option(
    "--picture", metavar="OUT.svg", type=click.Path(path_type=Path), help="Write a picture of the motion."
)
@options.reader
@options.language
@options.as_json
@click.pass_context
def bow(
    context: click.Context,
    /,
    reader: Reader | None,
    as_json: bool,
    wav: Path | None,
    room_s: float | None,
    gain_db: float | None,
    picture: Path | None,
    instrument: str | None,
    **stroke: Any,
) -> None:
    """Simulate a steady stroke of the bow: the state of the string, its pitch, its start, its sound.

    What is not given is chosen so that the string sings: try one change at a time from there.
    """
    check_outputs({"--wav": (wav, ".wav"), "--picture": (picture, ".svg")}, inputs=())
    if wav is None and (room_s is not None or gain_db is not None):
        raise click.UsageError(_("--room and --gain-db need --wav"))

    from colophony.app.bow import Request
    from colophony.app.bow import bow as play

    settings: Settings = context.obj
    given = {name: value for name, value in stroke.items() if value is not None}
    bowed = play(Request(instrument=instrument or settings.instrument or "violin", **given))
    for warning in bowed.motion.warnings:
        click.echo(_("Note: {warning}").format(warning=warning), err=True)
    reader = reader or settings.reader
    # Files first: a reader who closes standard output, or a gain that is too loud, leaves no half answer.
    _write_outputs(bowed, wav=wav, room_s=room_s or 0.0, gain_db=gain_db, picture=picture, reader=reader)
    if as_json:
        click.echo(json.dumps(bowed.to_json(), allow_nan=False, indent=1))
    else:
        from colophony.app.cli.stroke_text import print_stroke

        print_stroke(bowed, reader=reader, stream=sys.stdout)


def _write_outputs(
    bowed: Bowed,
    *,
    wav: Path | None,
    room_s: float,
    gain_db: float | None,
    picture: Path | None,
    reader: Reader,
) -> None:
    from colophony.app import bow as use_case

    if wav is not None:
        from colophony.app.wav import wav_bytes

        sound, gain = use_case.levelled(bowed, use_case.render(bowed, room_s=room_s), gain_db=gain_db)
        with whole_file(wav) as path:
            path.write_bytes(wav_bytes(sound, rate_hz=use_case.RATE_HZ))
        click.echo(_("sound: {file}, gain {gain} dB").format(file=wav, gain=figures(f"{gain:.1f}")), err=True)
    if picture is not None:
        with whole_file(picture) as path:
            path.write_text(use_case.picture(bowed, reader=reader), encoding="utf-8")
        click.echo(_("picture: {file}").format(file=picture), err=True)
