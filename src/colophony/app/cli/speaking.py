"""In which language does the command line speak? Help is translated in one place, for all commands.

Commands say their help in English, as click wants it: docstring, ``short_help``, ``help`` of an option. All
of it stands in the catalogue, cleaned of its indent as `help_of` gives it.
"""

from __future__ import annotations

import copy
import gettext
import inspect
import os
from collections.abc import Iterator
from contextlib import contextmanager

import click

from colophony.language import DOMAIN, LOCALE_DIR, N_, SOURCE, _, language, ngettext

#: What click says itself; it asks the standard library's gettext (click 8, "Internationalization").
CLICK_SAYS = (
    N_("Usage:"),
    N_("Options"),
    N_("Commands"),
    N_("Show this message and exit."),
    N_("Show the version and exit."),
    N_("Error: {message}"),
    N_("Try '{command} {option}' for help."),
    N_("default: {default}"),
    N_("required"),
    N_("Missing command."),
    N_("Missing argument"),
    N_("Missing option"),
    N_("No such command {name!r}."),
    N_("No such option {name!r}."),
    N_("Invalid value: {message}"),
    N_("Invalid value for {param_hint}: {message}"),
    N_("{value!r} is not a valid {number_type}."),
    N_("{value} is not in the range {range}."),
    N_("Option {name!r} does not take a value."),
    N_("Aborted!"),
)


def click_counts(count: int) -> tuple[str, ...]:
    """Return what click says of one thing or of several; here for the catalogue, click looks it up itself."""
    return (
        ngettext("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)", count),
        ngettext("{value!r} is not {choice}.", "{value!r} is not one of {choices}.", count),
        ngettext(
            "{value!r} does not match the format {format}.",
            "{value!r} does not match the formats {formats}.",
            count,
        ),
    )


def help_of(command: click.Command) -> Iterator[str]:
    """Yield every message of a command's help, and of the commands below it."""
    for text in (command.help, command.short_help, command.epilog):
        if text:
            yield inspect.cleandoc(text)
    for parameter in command.params:
        text = getattr(parameter, "help", None)
        if text:
            yield inspect.cleandoc(text)
    if isinstance(command, click.Group):
        for below in command.commands.values():
            yield from help_of(below)


def spoken(command: click.Command) -> click.Command:
    """Return a command, with the commands below it, whose help is in the language of the moment."""
    if language() == SOURCE:
        return command
    made = copy.copy(command)
    made.help, made.short_help, made.epilog = (
        _(inspect.cleandoc(text)) if text else text for text in (made.help, made.short_help, made.epilog)
    )
    made.params = [_spoken_option(one) for one in made.params]
    if isinstance(made, click.Group):
        made.commands = {name: spoken(below) for name, below in made.commands.items()}
    return made


def _spoken_option(parameter: click.Parameter) -> click.Parameter:
    text = getattr(parameter, "help", None)
    if not text:
        return parameter
    made = copy.copy(parameter)
    made.help = _(inspect.cleandoc(text))
    return made


@contextmanager
def click_speaks() -> Iterator[None]:
    """Let click itself speak the language of the moment within a ``with`` block."""
    if language() == SOURCE:
        yield
        return
    before, wished = gettext.textdomain(), os.environ.get("LANGUAGE")
    os.environ["LANGUAGE"] = language()  # all that the standard library's gettext goes by
    gettext.bindtextdomain(DOMAIN, LOCALE_DIR)
    gettext.textdomain(DOMAIN)
    try:
        yield
    finally:
        gettext.textdomain(before)
        if wished is None:
            del os.environ["LANGUAGE"]
        else:
            os.environ["LANGUAGE"] = wished
