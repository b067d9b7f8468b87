"""A studio's pages on a real server of this computer, and a client that behaves like its own pages."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import fake_ears
import httpx
import uvicorn

from colophony.app.web.desk import Desk
from colophony.app.web.plans import Plans
from colophony.app.web.serve import WEBSOCKETS
from colophony.app.web.site import create_app

STUDENT = {"name": "Mia", "instrument": "violin", "size": "1/2", "age": "child", "reader": "child"}
CONSENT = {
    "given_by": "Anna Weber",
    "relation": "mother",
    "on": "2025-03-14",
    "keep": "sound",
    "agreed": "yes",
    "note": "",
}


@dataclass
class Site:
    """A served studio. ``client`` follows redirects and says that it comes from the site's own page."""

    address: str
    folder: Path
    desk: Desk
    client: httpx.Client
    plans: Plans

    def add_student(self, **changes: str) -> int:
        """Add a student of a new name and return the number."""
        name = f"Student {time.monotonic_ns()}"
        answer = self.client.post("/students", data=STUDENT | {"name": name} | changes)
        assert answer.status_code == 200, answer.text
        return int(answer.url.path.rpartition("/")[2])

    def consent(self, student: int, **changes: str) -> None:
        answer = self.client.post(f"/lesson/{student}/consent", data=CONSENT | changes)
        assert answer.status_code == 200, answer.text

    def send(
        self, student: int, content: bytes = fake_ears.SOUND, *, name: str = "take.wav", **fields: str
    ) -> httpx.Response:
        """Send a recording and return the page that follows: its hearing, or what it became meanwhile."""
        return self.client.post(f"/lesson/{student}/takes", files={"recording": (name, content)}, data=fields)

    def wait(self, answer: httpx.Response, timeout_s: float = 20) -> httpx.Response:
        """Follow a hearing to its end and return the page of that."""
        end = time.monotonic() + timeout_s
        while answer.url.path.startswith("/hearing/") and "could not be heard" not in answer.text:
            assert time.monotonic() < end, answer.text
            time.sleep(0.05)
            answer = self.client.get(str(answer.url))
        return answer

    def hear(self, student: int, content: bytes = fake_ears.SOUND, **more: str) -> httpx.Response:
        """Send a recording and return the page of its findings, or of its failure."""
        return self.wait(self.send(student, content, **more))

    def files(self) -> set[str]:
        """Return every file of the studio's folder that could hold a sound."""
        return {
            str(path.relative_to(self.folder))
            for path in self.folder.rglob("*")
            if path.is_file() and not path.name.startswith(("studio.db", ".opening"))
        }


@contextmanager
def served(folder: Path, hear: Any = fake_ears.hear, **options: Any) -> Iterator[Site]:
    """Serve the pages of a studio in ``folder``."""
    app = create_app(folder, hear=hear, **options)
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=2, **WEBSOCKETS)
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            assert thread.is_alive()
            time.sleep(0.01)
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        own = {"Origin": address, "Sec-Fetch-Site": "same-origin"}
        with httpx.Client(base_url=address, headers=own, follow_redirects=True, timeout=20) as client:
            yield Site(address, folder, app.state.desk, client, app.state.plans)
        server.should_exit = True
        thread.join(15)
        assert not thread.is_alive()
