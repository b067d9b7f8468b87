"""The page String bench and its stream of sound, over HTTP and WebSocket as a page of ours speaks them."""

from __future__ import annotations

import io
import json
import struct
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from typing import Any

import numpy as np
import pytest
import soundfile
from serving import Site
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from colophony.app.web.bow_stream import MOST_SAMPLES, MOST_VOICES, REQUEST

RATE_HZ = 48_000


@contextmanager
def stream(site: Site, query: str = "", **headers: str) -> Iterator[Any]:
    address = site.address.replace("http", "ws") + f"/bench/bow?{query}"
    sent = {"Origin": site.address} | {name.replace("_", "-"): value for name, value in headers.items()}
    with connect(address, additional_headers=sent, compression=None, proxy=None) as socket:
        yield socket


def ask(socket: Any, count: int, *, number: int = 1, **gesture: float) -> np.ndarray:
    """Ask for samples with a gesture and return them."""
    values = {"speed": 0.2, "weight": 0.8, "distance": 0.0275, "tilt": 0.0} | gesture
    socket.send(struct.pack("<IIffff", number, count, *values.values()))
    content = socket.recv(timeout=20)
    assert isinstance(content, bytes), content
    assert struct.unpack_from("<II", content) == (number, count)
    return np.frombuffer(content, "<f4", offset=8)


def until_closed(socket: Any) -> Iterator[str | bytes]:
    with suppress(ConnectionClosed):
        while True:
            yield socket.recv(timeout=20)


def test_the_page_opens_with_the_stroke_of_its_address(site: Site) -> None:
    page = site.client.get("/bench?string=A&distance_mm=20.5&speed_cm_s=33&weight_n=0.61&tilt_deg=12").text
    for field, value in {
        "distance_mm": "20.5",
        "speed_cm_s": "33",
        "weight_n": "0.61",
        "tilt_deg": "12",
    }.items():
        assert f'name="{field}" value="{value}"' in page
    assert '<option value="A" selected>' in page


def test_the_answer_carries_the_address_that_reopens_it(site: Site) -> None:
    query = "string=G&weight_n=1.5&kept_string=A&kept_speed_cm_s=40"
    answer = site.client.get(f"/bench/answer?{query}").json()
    again = site.client.get(f"/bench/answer?{answer['query']}").json()
    assert again == answer
    assert answer["fields"]["weight_n"] == "1.5"
    assert answer["kept"]["kept_speed_cm_s"] == "40"
    assert answer["parts"]["kept"]


def test_the_bow_that_is_drawn_is_that_of_the_size(site: Site) -> None:
    """A sixteenth's bow is about half as long as a full one, a bass bow's hair wider than a violin's (common
    practice, no source).
    """
    full, small, bass = (
        site.client.get(f"/bench/answer?{query}").json()
        for query in ("", "size=1/16", "instrument=double+bass&size=3/4")
    )
    assert 0.45 < small["hair_mm"] / full["hair_mm"] < 0.6
    assert 9 <= full["ribbon_mm"] < bass["ribbon_mm"] < 20


def test_a_value_out_of_reach_is_one_line_and_the_page_still_works(site: Site) -> None:
    page = site.client.get("/bench?weight_n=900")
    assert page.status_code == 400
    assert "A weight of 900 N is out of reach here" in page.text
    assert "data-controls" in page.text
    answer = site.client.get("/bench/answer?weight_n=900", headers={"Accept": "application/json"})
    assert answer.status_code == 400
    assert set(answer.json()) == {"line"}


def test_what_an_address_says_is_never_shown_as_markup(site: Site) -> None:
    for field in ("instrument", "string", "note", "weight_n", "kept_size"):
        page = site.client.get("/bench", params={field: "<script>x</script>"})
        assert page.status_code == 400
        assert "<script>x" not in page.text


def test_the_sound_is_at_a_safe_level_and_in_tune(site: Site) -> None:
    """ISO 16: the open A is 440 Hz. A bowed string may differ from a ringing one: 12 cents, our own figure.
    The file's peak stands 12 dB below full scale.
    """
    content = site.client.get("/bench/sound.wav?string=A").content
    sound, rate = soundfile.read(io.BytesIO(content))
    assert rate == RATE_HZ
    assert np.abs(sound).max() == pytest.approx(10 ** (-12 / 20), rel=0.02)
    steady = sound[RATE_HZ:] * np.hanning(len(sound) - RATE_HZ)
    spectrum = np.abs(np.fft.rfft(steady, 16 * len(steady)))
    low, high = (round(hz * 16 * len(steady) / RATE_HZ) for hz in (400, 480))
    pitch_hz = (low + spectrum[low:high].argmax()) * RATE_HZ / (16 * len(steady))
    assert 1200 * np.log2(pitch_hz / 440) == pytest.approx(0, abs=12)


def test_a_soft_stroke_beside_a_strong_one_stays_softer(site: Site) -> None:
    query = "speed_cm_s=10&weight_n=0.5&kept_speed_cm_s=40&kept_weight_n=1"
    turned = "speed_cm_s=40&weight_n=1&kept_speed_cm_s=10&kept_weight_n=0.5"
    soft, strong = (
        soundfile.read(io.BytesIO(site.client.get(f"/bench/sound.wav?{q}").content))[0]
        for q in (query, turned)
    )
    assert np.abs(soft).max() < 0.6 * np.abs(strong).max()


def test_a_stroke_that_hardly_sounds_is_not_blown_up(site: Site) -> None:
    """Hearing: a bow of 0.02 N, the lightest here, only brushes the string. Alone and beside a clear tone it
    stays at least 20 dB, our own figure, below what a clear tone is given.
    """
    clear, faint, beside = (
        soundfile.read(io.BytesIO(site.client.get(f"/bench/sound.wav?{query}").content))[0]
        for query in ("", "weight_n=0.02", "weight_n=0.02&kept_weight_n=0.8")
    )
    for sound in (faint, beside):
        assert np.abs(sound).max() < 0.1 * np.abs(clear).max()


def test_a_choked_string_is_said_to_be_choked_by_page_and_drawn_bow_alike(site: Site) -> None:
    """Far above the greatest weight more weight is no cure, whatever the trembling reads as.

    A slow bow, whose neighbours are choked too: on processors that round differently it still is.
    """
    stroke = "string=A&distance_mm=40&speed_cm_s=5&weight_n=3.5"
    page = site.client.get(f"/bench/answer?{stroke}").json()
    assert "choked" in page["parts"]["says"]
    with stream(site, stroke) as socket:
        socket.recv(timeout=30)
        for _ in range(40):
            ask(socket, 1024, distance=0.04, weight=3.5, speed=0.05)
        socket.send("state")
        assert json.loads(socket.recv(timeout=20))["state"] == "choked"


def test_samples_come_as_asked_and_join_without_a_click(site: Site) -> None:
    """Controls glide: at the seams of the blocks the sound changes no faster than within them."""
    with stream(site, "string=D") as socket:
        assert json.loads(socket.recv(timeout=30)) == {"ready": True, "rate_hz": RATE_HZ}
        blocks = [ask(socket, 256, number=k, speed=0.1 + 0.004 * (k % 50)) for k in range(150)]
        sound = np.concatenate(blocks)
        assert np.abs(sound).max() <= 1.0
        assert np.abs(sound[RATE_HZ // 4 :]).max() > 0.02
        bend = np.abs(np.diff(sound, 2))[RATE_HZ // 4 :]
        seams = np.arange(256 * 50 - 1, len(sound) - 2, 256) - RATE_HZ // 4
        seams = seams[(seams > 2) & (seams < len(bend) - 2)]
        at_seam = np.zeros(len(bend), dtype=bool)
        for k in seams:
            at_seam[k - 2 : k + 3] = True
        # A click stands out of its neighbourhood many times; half as much again is the note's own course.
        assert bend[at_seam].max() <= 1.5 * bend[~at_seam].max()
        assert np.median([bend[k - 1 : k + 2].max() for k in seams]) < 3 * np.percentile(bend, 90)
        socket.send("state")
        told = json.loads(socket.recv(timeout=20))
        assert set(told) == {"state", "html"}


def test_a_lifted_bow_lets_the_string_ring_out(site: Site) -> None:
    with stream(site, "string=D") as socket:
        socket.recv(timeout=30)
        loud = np.concatenate([ask(socket, 1024) for _ in range(30)])[-9600:]
        rest = np.concatenate([ask(socket, 1024, weight=0.0, speed=0.0) for _ in range(60)])[-9600:]
        assert np.abs(rest).max() < 0.1 * np.abs(loud).max()


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", "do not understand"),
        (b"x" * 23, "do not understand"),
        (b"x" * 4000, "do not understand"),
        (REQUEST.pack(1, 0, 0.2, 0.8, 0.03, 0), "0 samples at once"),
        (REQUEST.pack(1, MOST_SAMPLES + 1, 0.2, 0.8, 0.03, 0), "samples at once"),
        (REQUEST.pack(1, 4_000_000_000, 0.2, 0.8, 0.03, 0), "samples at once"),
        (REQUEST.pack(1, 256, float("nan"), 0.8, 0.03, 0), "no number"),
        (REQUEST.pack(1, 256, 0.2, float("inf"), 0.03, 0), "no number"),
        ("play", "do not understand"),
    ],
)
def test_a_request_that_no_page_makes_is_refused_in_a_line(
    site: Site, content: bytes | str, line: str
) -> None:
    with stream(site) as socket:
        socket.recv(timeout=30)
        socket.send(content)
        assert line in json.loads(socket.recv(timeout=10))["line"]
        with pytest.raises(ConnectionClosed) as closed:
            socket.recv(timeout=10)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 1008  # RFC 6455, 7.4.1


def test_a_message_beyond_all_size_ends_the_connection(site: Site) -> None:
    """RFC 6455, 7.4.1: 1009, message too big; it is not read to its end."""
    with stream(site) as socket:
        socket.recv(timeout=30)
        socket.send(bytes(100_000))
        with pytest.raises(ConnectionClosed) as closed:
            socket.recv(timeout=10)
        assert closed.value.rcvd is None or closed.value.rcvd.code == 1009


def test_what_a_hand_overshoots_is_held_at_its_limit(site: Site) -> None:
    with stream(site) as socket:
        socket.recv(timeout=30)
        for gesture in (
            {"speed": 90.0},
            {"weight": 5000.0},
            {"distance": -3.0},
            {"distance": 9.0},
            {"tilt": -400.0},
        ):
            samples = ask(socket, 64, **gesture)
            assert np.isfinite(samples).all()
            assert np.abs(samples).max() <= 1.0


def test_nobody_is_given_more_sound_than_time_has_passed(site: Site) -> None:
    with stream(site) as socket:
        socket.recv(timeout=30)
        request = REQUEST.pack(1, MOST_SAMPLES, 0.2, 0.8, 0.0275, 0)
        for _ in range(60):  # 5 s of sound, all at once
            socket.send(request)
        answers = list(until_closed(socket))
        assert len(answers) < 60
        assert "than time has passed" in json.loads(answers[-1])["line"]


def test_pages_that_play_at_once_are_few_and_one_that_leaves_makes_room(site: Site) -> None:
    with ExitStack() as open_ones:
        for _ in range(MOST_VOICES):
            assert "ready" in open_ones.enter_context(stream(site)).recv(timeout=30)
        with stream(site) as late:
            assert "close one of them" in json.loads(late.recv(timeout=10))["line"]
    end = time.monotonic() + 10
    while True:
        with stream(site) as again:
            if "ready" in again.recv(timeout=30):
                break
        assert time.monotonic() < end
        time.sleep(0.1)


def test_a_string_that_is_not_there_is_said_in_a_line(site: Site) -> None:
    with stream(site, "string=H") as socket:
        assert "H" in json.loads(socket.recv(timeout=10))["line"]


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec_Fetch_Site": "cross-site"},
    ],
)
def test_a_connection_from_another_page_is_refused(site: Site, headers: dict[str, str]) -> None:
    """RFC 6455, 10.2: the server checks the Origin, because a browser lets any page open a WebSocket."""
    with pytest.raises(InvalidStatus) as refused, stream(site, **headers):
        pass
    assert refused.value.response.status_code == 403


def test_a_connection_under_a_foreign_name_is_refused(site: Site) -> None:
    """DNS rebinding: a name pointed at this computer is still not one of its own."""
    address = site.address.replace("http", "ws") + "/bench/bow"
    headers = {"Origin": "http://studio.example", "Host": "studio.example"}
    with (
        pytest.raises(InvalidStatus),
        connect(address, additional_headers=headers, compression=None, proxy=None),
    ):
        pass
