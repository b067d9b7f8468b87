"""Only this computer's own pages reach the studio. Truth: the standards named in each docstring."""

from __future__ import annotations

import socket
from urllib.parse import urlsplit

import pytest
from serving import STUDENT, Site

PAGES = ("/lesson", "/studio", "/look", "/nothing-here", "/static/look.css", "/static/recorder.js")


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_carries_the_headers(site: Site, path: str) -> None:
    """W3C Content Security Policy level 3; Fetch's nosniff and cross-origin resource policy."""
    headers = site.client.get(path).headers
    parts = [part.split() for part in headers["content-security-policy"].split(";")]
    policy = {part[0]: part[1:] for part in parts}
    assert policy["default-src"] == ["'self'"]
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == ["'none'"]
    assert "unsafe-inline" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["referrer-policy"] == "same-origin"
    assert "microphone=(self)" in headers["permissions-policy"]
    assert "server" not in headers or "uvicorn" in headers["server"]


def test_personal_pages_are_not_left_in_a_cache(site: Site) -> None:
    """RFC 9111: no-store keeps a page out of the cache of a shared computer."""
    student = site.add_student()
    for path in ("/lesson", f"/lesson/{student}", "/studio", "/look"):
        assert site.client.get(path).headers["cache-control"] == "no-store"
    assert site.client.get("/static/look.css").headers["cache-control"] == "no-cache"


@pytest.mark.parametrize(
    "host", ["studio.example", "127.0.0.1.example", "127.0.0.1@example", "example:80", "", "[::2]", "0.0.0.0"]
)
def test_a_foreign_name_for_this_computer_is_refused(site: Site, host: str) -> None:
    """A page whose name was pointed at 127.0.0.1 (DNS rebinding) still sends its own name as Host."""
    answer = site.client.get("/lesson", headers={"Host": host})
    assert answer.status_code in {400, 421}
    assert "Colophony" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost:8427", "LOCALHOST", "[::1]:8427"])
def test_this_computers_own_names_are_answered(site: Site, host: str) -> None:
    assert site.client.get("/lesson", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {},
    ],
)
def test_a_write_from_another_page_is_refused(site: Site, headers: dict[str, str]) -> None:
    """RFC 6454 (Origin) and W3C Fetch Metadata (Sec-Fetch-Site) tell where a form was sent from."""
    before = site.client.get("/lesson").text
    request = site.client.build_request("POST", "/students", data=STUDENT | {"name": "Intruder"})
    for name in ("Origin", "Sec-Fetch-Site"):
        del request.headers[name]
    request.headers.update(headers)
    assert site.client.send(request).status_code == 403
    assert site.client.get("/lesson").text == before


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS"])
def test_other_methods_are_refused(site: Site, method: str) -> None:
    assert site.client.request(method, "/lesson").status_code == 405


def test_a_recording_above_the_limit_is_refused_before_it_is_read(site: Site) -> None:
    """RFC 9110, 413: the announced length is enough; 100 bytes of the body never come."""
    student = site.add_student()
    parts = urlsplit(site.address)
    assert parts.hostname is not None
    with socket.create_connection((parts.hostname, parts.port or 80), timeout=10) as wire:
        wire.sendall(
            f"POST /lesson/{student}/takes HTTP/1.1\r\nHost: {parts.netloc}\r\nOrigin: {site.address}\r\n"
            "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 9000000000\r\n\r\n".encode()
        )
        answer = wire.recv(65536).decode()
    assert answer.startswith("HTTP/1.1 413")
    assert site.files() == set()


def test_a_recording_that_grows_beyond_the_limit_leaves_nothing(site: Site) -> None:
    """The same without an announced length (chunked): counted while it comes."""
    student = site.add_student()

    def body() -> object:
        yield b'--x\r\nContent-Disposition: form-data; name="recording"; filename="a.wav"\r\n\r\nRIFF'
        for _ in range(50):
            yield bytes(65536)

    answer = site.client.post(
        f"/lesson/{student}/takes",
        content=body(),
        headers={"Content-Type": "multipart/form-data; boundary=x"},
    )
    assert answer.status_code == 413
    assert "send a shorter recording" in answer.text
    assert site.files() == set()


def test_a_form_of_words_has_its_own_limit(site: Site) -> None:
    assert site.client.post("/students", data={"name": "x" * 70_000}).status_code == 413


def test_a_fault_of_the_studio_itself_is_said_in_a_line(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    def fall(*_: object) -> None:
        raise RuntimeError("secret")

    monkeypatch.setattr(type(site.desk.studio), "students", fall)
    answer = site.client.get("/lesson")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"
