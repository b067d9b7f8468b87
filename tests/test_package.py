"""What gets installed: the base stays light, help comes at once, the locks name no registry."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import colophony

ROOT = Path(__file__).parent.parent
LOCKS = ("requirements.lock", "requirements-dev.lock")
HEAVY = (
    "numpy",
    "scipy",
    "rich",
    "av",
    "typst",
    "sqlalchemy",
    "fastapi",
    "jinja2",
    "distributed",
    "importlib.metadata",
)


@pytest.fixture(scope="module")
def project() -> dict[str, object]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def locked(lock: str) -> set[str]:
    return set(re.findall(r"^([a-z0-9._-]+)==", (ROOT / lock).read_text(encoding="utf-8"), re.MULTILINE))


def names(requirements: list[str]) -> set[str]:
    return {re.split(r"[<>=\[; ]", requirement)[0].lower() for requirement in requirements}


def test_version_is_the_same_everywhere(project: dict[str, str]) -> None:
    """One version: in the package, in the project file and in the log of changes."""
    assert project["version"] == colophony.__version__
    assert f"## {colophony.__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


def test_locks_hold_every_dependency(project: dict[str, object]) -> None:
    """A dependency that was added without ``make lock`` is missing after ``make setup``."""
    extras: dict[str, list[str]] = project["optional-dependencies"]  # type: ignore[assignment]
    needed = names(project["dependencies"])  # type: ignore[arg-type]
    needed |= names(extras["cluster"]) | names(extras["paper"]) | names(extras["studio"])
    assert needed <= locked("requirements.lock")
    groups = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["dependency-groups"]
    assert needed | names(groups["dev"]) <= locked("requirements-dev.lock")


def test_locks_agree() -> None:
    """Tests run on the versions that users get."""
    pins = [
        dict(re.findall(r"^([a-z0-9._-]+)==(\S+)", (ROOT / lock).read_text(encoding="utf-8"), re.MULTILINE))
        for lock in LOCKS
    ]
    assert pins[0].items() <= pins[1].items()


@pytest.mark.parametrize("lock", LOCKS)
def test_lock_has_hashes_and_names_no_registry(lock: str) -> None:
    """pip refuses a changed file; a mirror can serve it."""
    text = (ROOT / lock).read_text(encoding="utf-8")
    pins = re.split(r"\n(?=[a-z0-9])", text.strip())
    assert all("--hash=sha256:" in pin for pin in pins)
    assert "://" not in text
    assert "index-url" not in text


def test_help_imports_nothing_heavy() -> None:
    """Help must come at once: only click and the standard library are loaded for it."""
    script = (
        "import sys\n"
        "from colophony.app.cli import program\n"
        "program.main(['--help'], standalone_mode=False)\n"
        "program.main(['listen', '--help'], standalone_mode=False)\n"
        f"print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    outcome = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "LOADED []" in outcome.stdout


@pytest.mark.skipif(os.name == "nt", reason="Windows does not tell what a child process cost")
def test_help_costs_under_400_ms() -> None:
    """Processor time, so that whatever else the machine does is not counted; the best of three."""
    seconds = []
    for _ in range(3):
        before = os.times()
        subprocess.run([sys.executable, "-m", "colophony", "--help"], capture_output=True, check=True)
        after = os.times()
        seconds.append(
            after.children_user + after.children_system - before.children_user - before.children_system
        )
    assert min(seconds) < 0.4


def test_installed_files_bring_their_licences() -> None:
    """Apache-2.0 for the code; the notice names what others made."""
    assert "Apache License" in (ROOT / "LICENSE").read_text(encoding="utf-8")[:200]
    notice = (ROOT / "NOTICE").read_text(encoding="utf-8")
    for part in ("CC BY 3.0", "Alegreya Sans", "Piazzolla", "SIL Open Font License", "axe-core"):
        assert part in notice
