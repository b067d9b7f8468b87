"""The program: its commands, and the one place where an error becomes a line and an exit status."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Sequence

import click

from colophony import __version__
from colophony.app.cli.bow import bow
from colophony.app.cli.demo import demo
from colophony.app.cli.lines import print_error
from colophony.app.cli.listen import listen
from colophony.app.cli.plan import plan
from colophony.app.cli.range import range_map
from colophony.app.cli.score import score
from colophony.app.cli.sheet import sheet
from colophony.app.cli.speaking import click_speaks, spoken
from colophony.app.cli.starts import starts
from colophony.app.cli.strip import strip
from colophony.app.cli.studio import studio
from colophony.app.cli.talk import talk
from colophony.app.cli.weeks import progress
from colophony.app.settings import language_of_machine, read_settings
from colophony.errors import ColophonyError
from colophony.language import _, speaking

DONE, INPUT_AT_FAULT, WRONG_USAGE, INTERRUPTED = 0, 1, 2, 130


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Exit status: 0 done; 1 the input is at fault (one line on standard error); 2 wrong usage.",
)
@click.version_option(__version__, "--version", message="%(prog)s %(version)s")
@click.pass_context
def program(context: click.Context) -> None:
    """Hear, explain and improve the tone of a student of violin, viola or cello."""
    context.obj = read_settings(os.environ)


program.add_command(listen)
program.add_command(bow)
program.add_command(range_map)
program.add_command(starts)
program.add_command(score)
program.add_command(plan)
program.add_command(sheet)
program.add_command(strip)
program.add_command(progress)
program.add_command(talk)
program.add_command(demo)
program.add_command(studio)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with its status; a user never meets a traceback.

    ``COLOPHONY_TRACEBACK=1`` shows where a fault of the program itself arose.
    """
    _make_streams_safe()
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # a library's remark is no finding
    with speaking(language_of_machine(os.environ)), click_speaks():
        sys.exit(_run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    try:
        outcome = spoken(program).main(arguments, prog_name="colophony", standalone_mode=False)
        sys.stdout.flush()
    except click.UsageError as error:
        error.show()
        return WRONG_USAGE
    except (KeyboardInterrupt, click.Abort):
        return _say(_("stopped; nothing was left half written"), INTERRUPTED)
    except BrokenPipeError:
        # The reader of our output is gone (such as `| head`): nothing is left to say, also not at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return INPUT_AT_FAULT
    except ColophonyError as error:
        return _say(str(error), INPUT_AT_FAULT)
    except OSError as error:
        return _say(f"{error.filename or _('system')}: {error.strerror or error}", INPUT_AT_FAULT)
    except Exception as error:  # the last line of defence: a person gets a sentence
        if os.environ.get("COLOPHONY_TRACEBACK"):
            raise
        kind = type(error).__name__
        line = _("a fault of the program itself ({kind}: {error}); please report it")
        return _say(line.format(kind=kind, error=error), INPUT_AT_FAULT)
    return outcome if isinstance(outcome, int) else DONE


def _say(message: str, status: int) -> int:
    print_error(message)
    return status


def _make_streams_safe() -> None:
    """A terminal that lacks a character shows a question mark instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
