"""A recording arrives whole or not at all, and its name is only ever a name."""

from __future__ import annotations

import socket
import time
from pathlib import Path
from urllib.parse import urlsplit

import fake_ears
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from serving import Site

from colophony.app.web.upload import displayed_name

HOSTILE_NAMES = [
    "../../../etc/passwd",
    "..\\..\\windows\\system32\\evil.wav",
    "/etc/passwd",
    "C:\\take.wav",
    "a\x00b.wav",
    "\u202egpj.wav",
    "<script>alert(1)</script>.wav",
    '"><img src=x onerror=alert(1)>.wav',
    "....",
    "take\r\nSet-Cookie: a=b.wav",
    "ü" * 300 + ".wav",
    "; rm -rf ~ #.wav",
]


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_a_file_name_is_data(site: Site, name: str) -> None:
    """CWE-22 and CWE-79: no name reaches a path or the page's markup."""
    student = site.add_student(age="grown-up")
    outside = set(site.folder.parent.iterdir())
    page = site.hear(student, name=name)
    assert page.url.path.startswith("/takes/")
    assert "<script>alert" not in page.text
    assert "<img src=x" not in page.text
    assert set(site.folder.parent.iterdir()) == outside
    assert all(Path(file).parts[0] in {"recordings"} for file in site.files())
    ref = page.url.path
    assert site.client.get(f"{ref}/recording?save").content == fake_ears.SOUND
    for path in (f"{ref}/sheet.pdf", f"{ref}/findings.html", f"{ref}/recording?save"):
        header = site.client.get(path).headers["content-disposition"]
        assert header.startswith("attachment;")
        assert "\n" not in header
        assert "/" not in header
        assert "set-cookie" not in site.client.get(path).headers


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=400))
def test_a_shown_name_is_short_and_holds_no_folder_and_no_control(sent: str) -> None:
    shown = displayed_name(sent)
    assert 0 < len(shown) <= 110
    assert shown.isprintable() or " " in shown or any(c.isspace() for c in shown)
    assert not set(shown) & {"/", "\\", "\x00", "\n", "\r"}
    assert shown not in {".", ".."}


def test_paths_in_addresses_reach_no_file(site: Site) -> None:
    for path in (
        "/static/../site.py",
        "/static/%2e%2e/site.py",
        "/static/..%2fsite.py",
        "/static/fonts/%2e%2e/tokens.py",
        "/takes/..%2f..%2fstudio.db/recording",
        "/takes/99999999999999999999/recording",
        "/takes/-1",
        "/lesson/99999999999999999999999",
        "/takes/%00",
    ):
        answer = site.client.get(path)
        assert answer.status_code in {400, 404}, path
        assert "import" not in answer.text


def raw_post(site: Site, student: int, body: bytes, *, length: int | None = None, kind: str = "") -> str:
    """Send bytes as they are and hang up after the answer, or at once when more was announced."""
    parts = urlsplit(site.address)
    assert parts.hostname is not None
    head = (
        f"POST /lesson/{student}/takes HTTP/1.1\r\nHost: {parts.netloc}\r\nOrigin: {site.address}\r\n"
        f"Content-Type: {kind or 'multipart/form-data; boundary=x'}\r\n"
        f"Content-Length: {len(body) if length is None else length}\r\nConnection: close\r\n\r\n"
    )
    with socket.create_connection((parts.hostname, parts.port or 80), timeout=10) as wire:
        wire.sendall(head.encode() + body)
        if length is not None:
            return ""
        answer = b""
        while part := wire.recv(65536):
            answer += part
    return answer.decode("utf-8", "replace")


PART = b'--x\r\nContent-Disposition: form-data; name="recording"; filename="a.wav"\r\n\r\n'


def test_an_upload_that_breaks_off_leaves_nothing(site: Site) -> None:
    """The sender hangs up half way: no file, no take."""
    student = site.add_student(age="grown-up")
    before = site.files()
    raw_post(site, student, PART + b"RIFF" + bytes(200_000), length=1_000_000)
    end = time.monotonic() + 5
    while site.files() != before and time.monotonic() < end:
        time.sleep(0.02)
    assert site.files() == before
    assert "None yet" in site.client.get(f"/lesson/{student}").text


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"", ""),
        (PART + b"RIFF", ""),  # the closing boundary never comes
        (PART + b"RIFF\r\n--x", ""),
        (PART + b"\r\n--x--\r\n", ""),  # an empty file
        (b"--y\r\nnot a part", ""),
        (PART + b"RIFF\r\n" + PART + b"RIFF\r\n--x--\r\n", ""),  # two files
        (b'--x\r\nContent-Disposition: form-data; name="other"; filename="a"\r\n\r\nRIFF\r\n--x--\r\n', ""),
        (b"--x\r\n: no name\r\n\r\n\r\n--x--\r\n", ""),
        (
            b'--x\r\nContent-Disposition: form-data; name="string"\r\n\r\n'
            + b"a" * 20_000
            + b"\r\n--x--\r\n",
            "",
        ),
        (b"a=b", "application/x-www-form-urlencoded"),
        (b"RIFF", "multipart/form-data"),
        (b"RIFF", "multipart/form-data; boundary=" + "y" * 500),
    ],
)
def test_a_broken_form_gets_one_line_and_the_form_again(site: Site, body: bytes, kind: str) -> None:
    """RFC 7578 and RFC 2046, section 5.1: a form is complete only with its closing boundary."""
    student = site.add_student(age="grown-up")
    before = site.files()
    answer = raw_post(site, student, body, kind=kind)
    assert answer.startswith("HTTP/1.1 400"), answer[:200]
    assert 'role="alert"' in answer
    assert "data-take-form" in answer
    assert "Traceback" not in answer
    assert site.files() == before


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300), st.integers(0, 3))
def test_no_bytes_bring_the_studio_down(site: Site, noise: bytes, shape: int) -> None:
    student = site.desk.studio.students()[0].id if site.desk.studio.students() else site.add_student()
    body = (noise, PART + noise, b"--x\r\n" + noise + b"\r\n--x--\r\n", PART + noise + b"\r\n--x--\r\n")[
        shape
    ]
    answer = raw_post(site, student, body)
    assert answer.startswith(("HTTP/1.1 400", "HTTP/1.1 303")), answer[:200]


def test_what_was_said_of_the_take_stays_in_the_form(site: Site) -> None:
    student = site.add_student()
    answer = site.send(student, string="G3", expect="G3 H3", first_bow="up", a4_hz="441")
    assert answer.status_code == 400
    assert "no note name" in answer.text
    assert 'value="G3 H3"' in answer.text
    assert 'value="441"' in answer.text
    assert '<option value="G3" selected>' in answer.text
