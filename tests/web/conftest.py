"""The pages, served with ears that do not listen: what a recording holds decides what is heard."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from serving import Site, served


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with served(tmp_path_factory.mktemp("web") / "studio", upload_limit=2_000_000) as running:
        yield running
