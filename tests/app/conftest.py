"""A stand-in for the ears, and the command line run in this process."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hand_made import make_findings

from colophony.app import lesson
from colophony.errors import TakeError
from colophony.teaching.findings import Findings
from factories import make_stroke


class Ears:
    """Stands in for `colophony.app.lesson`: every file whose name begins with ``bad`` is at fault."""

    def __init__(self) -> None:
        self.requests: list[tuple[Path, Any]] = []
        self.references: tuple[Path, ...] = ()
        self.answer: Callable[[Path], Findings] = lambda path: make_findings(file=path.name)

    def hear(self, path: Path, request: Any, *, progress: Any = None, kept: Any = None) -> Findings:
        self.requests.append((path, request))
        if path.name.startswith("bad"):
            raise TakeError(f"{path.name}: no audio in this file; record it again")
        return self.answer(path)

    def listen_references(self, paths: tuple[Path, ...], request: Any) -> tuple[Any, ...]:
        self.references = tuple(paths)
        return (make_stroke(),)


@pytest.fixture
def ears(monkeypatch: pytest.MonkeyPatch) -> Ears:
    stand_in = Ears()
    monkeypatch.setattr(lesson, "hear", stand_in.hear)
    monkeypatch.setattr(lesson, "listen_references", stand_in.listen_references)
    return stand_in


@pytest.fixture
def colophony(
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[..., tuple[int, str, str]]:
    """Run the command line in this process; return exit status, standard output, standard error."""
    from colophony.app.cli import main

    for name in ("INSTRUMENT", "LANGUAGE", "READER", "STUDIO", "TRACEBACK"):
        monkeypatch.delenv(f"COLOPHONY_{name}", raising=False)
    monkeypatch.setenv("LC_ALL", "C")
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("COLOPHONY_CACHE", str(tmp_path_factory.mktemp("cache")))

    def run(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        out, err = capfd.readouterr()
        return ended.value.code, out, err  # type: ignore[return-value]

    return run
