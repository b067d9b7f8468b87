"""Layers hold: import-linter's contracts of ``pyproject.toml``, run with the tests."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
LINT = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", LINT],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder / "src")},
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_contract_is_kept() -> None:
    """Imports point right only; pages, terminal, database and clock stay where they belong."""
    outcome = lint(ROOT)
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_a_broken_contract_is_noticed(tmp_path: Path) -> None:
    """The check above can fail: physics that imports the command line breaks two contracts."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(
        ROOT / "src", tmp_path / "src", ignore=shutil.ignore_patterns("__pycache__", "*.flac", "*.ttf")
    )
    with (tmp_path / "src/colophony/physics/__init__.py").open("a", encoding="utf-8") as module:
        module.write("\nimport click\nimport colophony.app.cli\n")
    outcome = lint(tmp_path)
    assert outcome.returncode == 1, outcome.stdout
    assert outcome.stdout.count("BROKEN") >= 2
