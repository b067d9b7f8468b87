"""Files that are no recordings, damaged recordings, and files made to harm: one clear line or sound."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sound_files
from colophony.errors import TakeError
from colophony.listening.decode import Recording

RATE = 22_050
KINDS = [
    "wav",
    "aiff",
    "caf",
    "flac",
    "mp3",
    "opus",
    "ogg-vorbis",
    "m4a-aac",
    "m4a-alac",
    "webm-opus",
    "mov-video",
]


def noise(seconds: float) -> np.ndarray:
    return 0.2 * np.random.default_rng(5).standard_normal(round(seconds * 44_100))


def read(path: Path) -> tuple[np.ndarray, Recording]:
    with Recording(path) as recording:
        return np.concatenate(list(recording.blocks(rate_hz=RATE))), recording


def refusal(path: Path | str) -> str:
    with pytest.raises(TakeError) as caught, Recording(path) as recording:
        for _ in recording.blocks(rate_hz=RATE):
            pass
    message = str(caught.value)
    assert message.isprintable()
    assert len(message) < 250
    return message


# What it is, and what to do


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    assert refusal(tmp_path / "lesson.wav") == "lesson.wav: no such file. Check the name and the folder."
    (tmp_path / "file").write_bytes(b"x")
    assert "no such file" in refusal(tmp_path / "file" / "inside.wav")


def test_a_folder_is_called_a_folder(tmp_path: Path) -> None:
    assert "this is a folder" in refusal(tmp_path)


def test_a_refused_permission_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system call refuses by hand here: a superuser's tests could read any file."""

    def refuse(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    assert "no permission" in refusal(tmp_path / "lesson.wav")


def test_an_empty_file_says_so(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    path.touch()
    assert "empty (0 bytes)" in refusal(path)


def test_text_is_no_sound_whatever_its_name(tmp_path: Path) -> None:
    path = tmp_path / "notes.wav"
    path.write_text("Practise slowly, near the bridge.\n" * 40, encoding="utf-8")
    assert "not a sound file" in refusal(path)


def test_a_picture_is_no_sound(tmp_path: Path) -> None:
    path = tmp_path / "photo.wav"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8)
    assert "not a sound file" in refusal(path)


def test_a_video_without_sound_says_so(tmp_path: Path) -> None:
    assert "a video without sound" in refusal(sound_files.video_without_sound(tmp_path / "silent.mp4"))


def test_a_header_without_sound_says_that_nothing_could_be_decoded(tmp_path: Path) -> None:
    path = sound_files.write(tmp_path, "wav", noise(0.1), rate_hz=44_100)
    data = path.read_bytes()
    path.write_bytes(data[: data.index(b"data") + 8])
    assert "no sound in it could be decoded" in refusal(path)


@pytest.mark.parametrize("rate_hz", [1, 4_000, 400_000])
def test_a_sample_rate_out_of_range_names_the_range(rate_hz: int, tmp_path: Path) -> None:
    path = sound_files.write(tmp_path, "wav", noise(0.1), rate_hz=44_100)
    data = bytearray(path.read_bytes())
    data[24:28] = rate_hz.to_bytes(4, "little")
    path.write_bytes(data)
    assert f"{rate_hz} samples a second; it must be 8000 to 192000" in refusal(path)


def test_strange_names_stay_on_one_line(tmp_path: Path) -> None:
    assert "\n" not in refusal(tmp_path / "two\nlines\x1b[31m.wav")
    assert "not a usable name" in refusal("nul\x00byte.wav")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="named pipes do not exist here")
@pytest.mark.timeout(10)
def test_a_pipe_or_device_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    assert "not an ordinary file" in refusal(tmp_path / "pipe.wav")
    assert "not an ordinary file" in refusal("/dev/zero")


# Only the file itself is read


@pytest.mark.parametrize(
    "name", ["http://127.0.0.1:9/a.wav", "concat:a.wav|b.wav", "file:a.wav", "pipe:0", "lavfi"]
)
def test_an_address_is_only_a_file_name(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sound_files.write(tmp_path, "wav", noise(0.1), rate_hz=44_100).rename(tmp_path / "a.wav")
    monkeypatch.chdir(tmp_path)
    assert "no such file" in refusal(name)


def playlists(target: str) -> dict[str, str]:
    return {
        "hls": f"#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\n{target}\n#EXT-X-ENDLIST\n",
        "concat": f"ffconcat version 1.0\nfile '{target}'\n",
        "sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio 5004 RTP/AVP 0\n",
        "dash": '<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static"><Period>'
        f"<AdaptationSet><Representation id='1'><BaseURL>{target}</BaseURL></Representation>"
        "</AdaptationSet></Period></MPD>",
        "references": f"[reference]\nref1={target}\n",
    }


@pytest.mark.parametrize("kind", sorted(playlists("")))
def test_a_playlist_opens_neither_file_nor_network(kind: str, tmp_path: Path) -> None:
    """A server and a real sound file stand ready; nobody may ask for them."""
    asked: list[str] = []

    class Witness(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_error(404)

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Witness)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        other = sound_files.write(tmp_path, "wav", noise(0.2), rate_hz=44_100)
        for target in (f"http://127.0.0.1:{server.server_port}/a.wav", other.as_uri(), str(other)):
            for name in ("list.wav", "list.m3u8", "list.mpd"):
                (tmp_path / name).write_text(playlists(target)[kind], encoding="utf-8")
                assert "not a sound file" in refusal(tmp_path / name)
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
    assert asked == []


def test_a_movie_may_not_point_to_another_file(tmp_path: Path) -> None:
    """A QuickTime data reference (`dref`) that names another file is not followed."""
    path = sound_files.write(tmp_path, "mov-video", noise(0.3), rate_hz=44_100)
    other = sound_files.write(tmp_path, "wav", noise(0.3), rate_hz=44_100)
    data = path.read_bytes()
    place = data.index(b"dref")
    url = data[place + 12 :][:12]
    assert url[4:8] in (b"url ", b"alis")
    changed = bytearray(data)
    changed[place + 12 + 8 : place + 12 + 12] = bytes(4)  # flag "in this file" cleared
    path.write_bytes(changed)
    opened: list[object] = []

    def note(event: str, args: tuple[object, ...]) -> None:
        if event == "open":
            opened.append(args[0])

    watched_hook.callback = note
    try:
        try_to_read(path)
    finally:
        watched_hook.callback = None
    assert not any(str(name).endswith(other.name) for name in opened)


# Damage


@pytest.mark.parametrize("kind", ["wav", "aiff", "flac", "mp3", "webm-opus", "m4a-alac"])
def test_a_recording_cut_off_gives_its_beginning_and_says_so(kind: str, tmp_path: Path) -> None:
    path = sound_files.write(tmp_path, kind, noise(3), rate_hz=44_100)
    data = path.read_bytes()
    if kind == "m4a-alac":  # sound first, index last: keep the index, lose sound in the middle
        data = data[:60_000] + bytes(200_000) + data[260_000:]
        path.write_bytes(data)
        sound, recording = read(path)
        assert recording.truncated
        assert len(sound) == pytest.approx(3 * RATE, abs=0.05 * RATE)  # times stay right
        return
    path.write_bytes(data[: round(0.6 * len(data))])
    sound, recording = read(path)
    assert 1.0 < len(sound) / RATE < 2.2
    assert recording.truncated


def test_a_recording_without_its_end_index_is_refused_clearly(tmp_path: Path) -> None:
    """A phone that dies while it records leaves an MP4 without index: nothing can be decoded."""
    path = sound_files.write(tmp_path, "m4a-aac", noise(3), rate_hz=44_100)
    path.write_bytes(path.read_bytes()[:20_000])
    assert "cut off" in refusal(path) or "damaged" in refusal(path)


@pytest.mark.parametrize("kind", ["mp3", "flac", "opus", "m4a-aac"])
def test_a_bad_stretch_in_the_middle_is_passed_over(kind: str, tmp_path: Path) -> None:
    """What follows the damage keeps its time where the container has time stamps."""
    rate = 44_100
    sound = noise(4) * 0.02
    sound[3 * rate : 3 * rate + 200] = 0.9  # a mark after the damage
    path = sound_files.write(tmp_path, kind, sound, rate_hz=rate)
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 3000] = np.random.default_rng(1).bytes(3000)
    path.write_bytes(data)
    result, recording = read(path)
    assert np.isfinite(result).all()
    assert recording.heard_s == pytest.approx(4, abs=1.0)
    assert recording.truncated
    if kind in ("m4a-aac", "flac"):
        late = result[round(2.8 * RATE) :]
        assert (round(2.8 * RATE) + np.argmax(np.abs(late))) / RATE == pytest.approx(3.0, abs=0.06)


def test_sound_that_starts_after_the_picture_keeps_its_place(tmp_path: Path) -> None:
    sound = np.zeros(44_100)
    sound[22_050:22_060] = 0.9
    path = sound_files.write(tmp_path, "mp4-video", sound, rate_hz=44_100, picture_lead_s=0.8)
    result, recording = read(path)
    assert np.argmax(np.abs(result)) / RATE == pytest.approx(0.8 + 0.5, abs=0.005)
    assert not recording.truncated


# Anything at all


class WatchedHook:
    callback = None

    def __call__(self, event: str, args: tuple[object, ...]) -> None:
        if self.callback is not None:
            self.callback(event, args)


watched_hook = WatchedHook()
sys.addaudithook(watched_hook)


def try_to_read(path: Path) -> None:
    """Either a `TakeError` of one line or finite float32 of the stated rate; nothing else."""
    message = "none"
    try:
        with Recording(path) as recording:
            for block in recording.blocks(rate_hz=RATE, block_s=1.0):
                assert block.dtype == np.float32
                assert np.isfinite(block).all()
            assert 0 <= recording.clipped_share <= 1
    except TakeError as error:
        message = str(error)
    assert message.isprintable()


@pytest.fixture(scope="module")
def originals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("originals")
    return {kind: sound_files.write(folder, kind, noise(0.4), rate_hz=44_100).read_bytes() for kind in KINDS}


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz") / "take.bin"


fuzz = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@fuzz
@given(data=st.binary(max_size=4096))
def test_random_bytes_are_refused_or_heard(scratch: Path, data: bytes) -> None:
    scratch.write_bytes(data)
    try_to_read(scratch)


@fuzz
@given(kind=st.sampled_from(KINDS), share=st.floats(0, 1))
def test_a_file_cut_anywhere_is_refused_or_heard(
    originals: dict[str, bytes], scratch: Path, kind: str, share: float
) -> None:
    data = originals[kind]
    scratch.write_bytes(data[: int(share * len(data))])
    try_to_read(scratch)


@settings(parent=fuzz, max_examples=150)
@given(
    kind=st.sampled_from(KINDS),
    changes=st.lists(st.tuples(st.floats(0, 1), st.binary(min_size=1, max_size=8)), min_size=1, max_size=12),
    header=st.booleans(),
)
def test_a_file_changed_anywhere_is_refused_or_heard(
    originals: dict[str, bytes],
    scratch: Path,
    kind: str,
    changes: list[tuple[float, bytes]],
    header: bool,
) -> None:
    data = bytearray(originals[kind])
    reach = min(len(data), 600) if header else len(data)
    for share, new in changes:
        # The index of MP4 and MOV files lies at their end.
        place = int(share * (reach - len(new)))
        place = len(data) - reach + place if header and kind.startswith("m") and len(changes) % 2 else place
        data[place : place + len(new)] = new
    scratch.write_bytes(data)
    try_to_read(scratch)


def test_damage_prints_nothing(tmp_path: Path) -> None:
    """The decoder's own messages would spoil a command's output."""
    path = sound_files.write(tmp_path, "m4a-aac", noise(2), rate_hz=44_100)
    data = bytearray(path.read_bytes())
    data[5_000:9_000] = np.random.default_rng(2).bytes(4000)
    path.write_bytes(data)
    script = (
        "import sys; from colophony.listening.decode import Recording\n"
        "with Recording(sys.argv[1]) as r: print(sum(len(b) for b in r.blocks(rate_hz=22050)) > 0)"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script, str(path)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout.strip(), done.stderr) == (0, "True", "")
