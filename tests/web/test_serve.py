"""The pages are served to this computer only, and stop when told to."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from colophony.app.web.serve import serve
from colophony.errors import InputError, StudioError


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.2", "studio.example", "", "127.0.0.2"])
def test_another_address_than_this_computers_own_is_refused(tmp_path: Path, host: str) -> None:
    with pytest.raises(InputError, match="no login"):
        serve(tmp_path / "studio", host=host, port=0, open_browser=False)
    assert not (tmp_path / "studio").exists()


@pytest.mark.parametrize("port", [-1, 65536])
def test_a_port_that_does_not_exist_is_refused(tmp_path: Path, port: int) -> None:
    with pytest.raises(InputError, match="does not exist"):
        serve(tmp_path / "studio", port=port, open_browser=False)


def test_a_taken_port_is_said_in_a_line(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other, pytest.raises(InputError, match="give another"):
        serve(tmp_path / "studio", port=other.getsockname()[1], open_browser=False)


def test_a_folder_that_is_no_studio_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("private")
    with pytest.raises(StudioError):
        serve(tmp_path, port=0, open_browser=False)


@pytest.mark.skipif(sys.platform == "win32", reason="interrupting a program works otherwise there")
def test_the_served_studio_answers_and_stops_when_interrupted(tmp_path: Path) -> None:
    code = (
        "from pathlib import Path; from colophony.app.web.serve import serve;"
        f"serve(Path({str(tmp_path / 'studio')!r}), port=0, open_browser=False)"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        address = next(word for word in line.split() if word.startswith("http://127.0.0.1:"))
        end = time.monotonic() + 20
        while True:
            try:
                answer = httpx.get(f"{address}lesson")
                break
            except httpx.ConnectError:
                assert time.monotonic() < end
                time.sleep(0.05)
        assert "Who is playing?" in answer.text
        process.send_signal(signal.SIGINT)
        assert process.wait(20) in {0, -signal.SIGINT, 130}
