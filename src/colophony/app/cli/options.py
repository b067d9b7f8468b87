"""Options that several commands share, and the types that read them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colophony import units
from colophony.app.settings import A4_LIMITS_HZ, INSTRUMENTS, READERS
from colophony.errors import InputError
from colophony.language import LANGUAGES, _, speaking

if TYPE_CHECKING:
    from colophony.records.studio import Studio

#: Sizes that are sold as such (common practice, no source).
SIZES = ("4/4", "7/8", "3/4", "1/2", "1/4", "1/8", "1/10", "1/16")
STRINGS = ("C", "G", "D", "A", "E")


class Notes(click.ParamType):  # type: ignore[type-arg]  # generic only in newer versions of click
    """Note names between spaces or commas, in the order they are played."""

    name = "NOTES"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, ...]:
        """Return the names as `units.midi_to_note` writes them; fail on a word that is no note."""
        if isinstance(value, tuple):
            return value
        words = str(value).replace(",", " ").split()
        if not words:
            self.fail(_("write at least one note, such as G3"), param, ctx)
        try:
            return tuple(units.midi_to_note(units.note_to_midi(word)) for word in words)
        except InputError as error:
            self.fail(str(error), param, ctx)


instrument = click.option(
    "--instrument",
    type=click.Choice(INSTRUMENTS),
    help="What was played; else the setting COLOPHONY_INSTRUMENT.",
)
instrument_bowed = click.option(
    "--instrument",
    type=click.Choice(INSTRUMENTS),
    help="What is bowed; else the setting COLOPHONY_INSTRUMENT, else a violin.",
)
size = click.option("--size", type=click.Choice(SIZES), help="Size of the instrument; else 4/4.")
string = click.option(
    "--string",
    type=click.Choice(STRINGS, case_sensitive=False),
    metavar="|".join(STRINGS),
    help="String that was played; else the likeliest for each note.",
)
a4 = click.option(
    "--a4",
    "a4_hz",
    metavar="HZ",
    type=click.FloatRange(*A4_LIMITS_HZ),
    help="Tuning of A4; else found from the take.",
)
as_json = click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Machine-readable answer on standard output, nothing else there.",
)
reader = click.option(
    "--reader",
    type=click.Choice(READERS),
    help="Whose words to use; else the setting COLOPHONY_READER (teacher).",
)


def _speak(context: click.Context, parameter: click.Parameter, name: str | None) -> None:
    if name is not None:
        context.with_resource(speaking(name))


#: For commands that make something for a reader; holds until the command ends.
language = click.option(
    "--language",
    type=click.Choice(tuple(LANGUAGES)),
    is_eager=True,
    expose_value=False,
    callback=_speak,
    help="Language of all words; else the setting COLOPHONY_LANGUAGE.",
)
#: The papers of `colophony.app.paper.typeset`, which takes too long to load for help.
paper = click.option(
    "--paper", type=click.Choice(("a4", "us-letter")), default="a4", show_default=True, help="Paper."
)
studio_folder = click.option(
    "--studio",
    "folder",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="The studio's folder; else the setting COLOPHONY_STUDIO.",
)


@contextmanager
def opened(context: click.Context, folder: Path | None) -> Iterator[Studio]:
    """Open the studio that an option or the settings name, for as long as the block lasts."""
    from colophony.app.studio import open_studio

    with open_studio(folder or context.obj.studio) as studio:
        yield studio
