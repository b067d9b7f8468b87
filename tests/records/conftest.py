from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from colophony.records.domain import Student
from colophony.records.studio import Studio
from studio_samples import add_consented, write_recording


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    with Studio.open(tmp_path / "studio") as opened:
        yield opened


@pytest.fixture
def student(studio: Studio) -> Student:
    return add_consented(studio)


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return write_recording(tmp_path)
