"""What the documents say is true: commands, options, settings, words of make, links, output."""

from __future__ import annotations

import importlib.util
import re
import shlex
from pathlib import Path
from types import ModuleType

import click
import pytest

from colophony.app.cli import program
from colophony.app.cli.table import SIGNS
from colophony.app.settings import SETTINGS
from colophony.teaching import wording

ROOT = Path(__file__).parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def make_docs() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_docs", ROOT / "tools/make_docs.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def lines_of_code(text: str) -> list[str]:
    blocks = re.findall(r"^```(?:\w*)\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    return [line for block in blocks for line in block.splitlines()]


def test_page_of_commands_is_made_from_the_program(make_docs: ModuleType) -> None:
    """Every command and option with its help, every setting; ``make docs`` writes it."""
    page = make_docs.COMMANDS.read_text(encoding="utf-8")
    assert page == make_docs.commands_page(), "run make docs"
    for context in make_docs.every_command(program, "colophony"):
        for parameter in context.command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{context.command_path} {parameter.opts} has no help"
                assert parameter.opts[0] in page
    assert all(setting.variable in page for setting in SETTINGS)


def test_commands_in_the_readme_exist() -> None:
    """A newcomer copies them, or lets make run them: each is there and knows every option that is given."""
    calls = [line for line in lines_of_code(README) if re.match(r"(\.venv[/\\]\w+[/\\])?colophony ", line)]
    assert len(calls) >= 3
    made = re.findall(r"^\t@?\$\(BIN\)/(colophony .*)$", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE)
    assert len(made) >= 2
    for call in [*calls, *made]:
        words = shlex.split(call.replace("\\", "/"))[1:]
        command: click.Command = program
        while isinstance(command, click.Group):
            command = command.commands[words.pop(0)]
        options = {name for parameter in command.params for name in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= options, call


def test_options_in_the_readme_exist() -> None:
    """Also those that are named in a sentence."""
    known = {
        name for command in (program, *program.commands.values()) for p in command.params for name in p.opts
    }
    known |= {"--help", "--require-hashes", "--no-deps"}
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README)) <= known


def test_words_of_make_exist() -> None:
    """Every ``make WORD`` in a document has its rule, and every rule says what it does."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    rules = set(re.findall(r"^([a-z]+):.*## ", makefile, re.MULTILINE))
    named = {
        word for page in PAGES for word in re.findall(r"`make ([a-z]+)", page.read_text(encoding="utf-8"))
    }
    named |= {line.split()[1] for line in lines_of_code(README) if line.startswith("make ")}
    assert named <= rules
    assert {"setup", "demo", "test", "studio", "check", "bench"} <= rules


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    """Every link to a file of the project finds it."""
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_decisions_are_numbered_and_say_why() -> None:
    """One page a decision, each number once; what was decided comes first."""
    pages = [path for path in (ROOT / "docs/decisions").glob("*.md") if path.name != "README.md"]
    numbers = [path.name[:4] for path in pages]
    assert len(set(numbers)) == len(numbers)
    for path in pages:
        assert re.fullmatch(r"\d{4}-[a-z0-9-]+\.md", path.name)
        assert path.read_text(encoding="utf-8").startswith("# ")


def test_readme_shows_the_signs_of_the_terminal() -> None:
    """Sign and word of every state as ``colophony listen`` prints them."""
    for state, sign in SIGNS.items():
        escaped = sign.replace("|", "\\|")
        assert f"| `{escaped}` | {wording.state_word(state)} |" in README


def test_readme_opens_with_the_job_then_one_command() -> None:
    """Who, what and why in one paragraph; nothing stands before it or between it and the command."""
    title, job, command = README.split("\n\n")[:3]
    assert title == "# Colophony"
    assert all(word in job for word in ("teacher", "violin", "viola", "cello", "bow", "tone"))
    assert command == "```\nmake demo\n```"


def test_output_in_the_readme_is_the_true_one(make_docs: ModuleType) -> None:
    """The bundled take is heard again. Figures may differ in the last digit from machine to machine (numerics
    of the libraries), words may not."""
    shown = make_docs.shown_output(README)
    heard = make_docs.true_output()
    assert words(shown) == words(heard), "run make docs"


def words(text: str) -> list[str]:
    return re.sub(r"[+-]?\d+(\.\d+)?", "0", text).split()
