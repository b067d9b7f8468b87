"""``colophony bow`` keeps the contract of the command line, and its strokes do what strokes do."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import jsonschema
import numpy as np
import pytest
import soundfile

from colophony.app import bow as use_case
from colophony.app.bow import Bowed, Request, bow, levelled, render
from colophony.app.cli import bow as command
from colophony.app.cli.stroke_text import OWN_SIGNS
from colophony.app.wav import wav_bytes
from colophony.physics.friction import LAWS
from colophony.physics.instruments import find_instrument
from colophony.physics.regimes import STATES
from colophony.physics.strings import FULL_SIZE
from colophony.teaching.room import weight_range_n
from colophony.teaching.wording.bowed import CHOKED, simulated_cure, simulated_sentence, simulated_word

Run = Callable[..., tuple[int, str, str]]
SCHEMA = json.loads((Path(__file__).parents[2] / "docs/bow.schema.json").read_text(encoding="utf-8"))


@lru_cache(maxsize=16)
def played(**values: Any) -> Bowed:
    return bow(Request(**values))


def strict_json(text: str) -> Any:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON (RFC 8259, section 6)")

    value = json.loads(text, parse_constant=refuse)
    jsonschema.validate(value, SCHEMA, cls=jsonschema.Draft202012Validator)
    return value


def test_a_stroke_nobody_described_sings_on_the_a_string(colophony: Run) -> None:
    """An open violin A at 440 Hz: one slip a period, within 10 cents of the free string (common practice).

    Nothing but the JSON of ``docs/bow.schema.json`` is on standard output.
    """
    status, out, err = colophony("bow", "--json")
    answer = strict_json(out)
    assert (status, err) == (0, "")
    assert answer["state"] == "helmholtz"
    assert answer["parameters"]["string"] == "A"
    assert answer["frequency_hz"] == pytest.approx(440.0, rel=10 / 1200 * math.log(2))
    assert answer["slips_per_period"] == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize(
    ("instrument", "string"), [(name, string) for name in command.INSTRUMENTS for string in FULL_SIZE[name]]
)
def test_every_open_string_sings_by_default(instrument: str, string: str) -> None:
    """The middle sounding point, a whole bow in about three seconds, part of the measured greatest weight."""
    answer = played(instrument=instrument, string=string).to_json()
    jsonschema.validate(answer, SCHEMA, cls=jsonschema.Draft202012Validator)
    assert answer["state"] == "helmholtz"


def test_too_light_and_too_heavy_strokes_do_not_sing() -> None:
    """Schelleng (1973): below the least weight several slips or none, above the greatest no regular slip.

    What cannot be known is null: neither stroke settles.
    """
    stroke = played(instrument="violin", string="A")
    _, greatest_n = weight_range_n(stroke.string, beta=stroke.motion.beta, speed_m_s=0.2)
    light, heavy = played(weight_n=0.02), played(weight_n=round(2.5 * greatest_n, 1))
    for stroke in (light, heavy):
        answer = stroke.to_json()
        jsonschema.validate(answer, SCHEMA, cls=jsonschema.Draft202012Validator)
        assert answer["state"] != "helmholtz"
        assert answer["settling_ms"] is None
    assert "more weight" in light.means("adult").lower()
    assert re.search(r"less weight|take off half of the weight", heavy.means("adult").lower())
    assert heavy.told_state not in ("multiple-slip", "noise")


def test_the_answer_says_a_sentence_first(colophony: Run) -> None:
    """State in sign and word, what it means, the setting with a weight that a hand knows, then figures."""
    status, out, _ = colophony("bow", "--reader", "adult")
    lines = out.splitlines()
    assert status == 0
    assert lines[0].startswith("/|/|  clear  The tone was clear")
    assert "Violin 4/4, A string, open A4." in out
    assert "N (about " in out
    assert lines[-1].startswith("  Brightness (middle of the spectrum)")


@pytest.mark.parametrize("reader", ["child", "adult", "teacher"])
@pytest.mark.parametrize("state", [*STATES, CHOKED])
def test_every_state_has_words_and_a_cure(state: str, reader: Any) -> None:
    """No state of the engine is without word and sentence; what is not clear has something to change."""
    assert simulated_word(state)
    assert simulated_sentence(state, reader=reader).endswith(".")
    cure = simulated_cure(state)
    assert (cure is None) == (state == "helmholtz")


@pytest.mark.parametrize(
    ("arguments", "limit"),
    [
        (("--weight-n", "0"), "0.005 to 20 N"),
        (("--weight-n", "-1"), "0.005 to 20 N"),
        (("--weight-n", "nan"), "0.005 to 20 N"),
        (("--speed-cm-s", "1e9"), "0.5 to 300 cm/s"),
        (("--tilt-deg", "90"), "0 to 60 degrees"),
        (("--seconds", "0"), "0.2 to 60 s"),
        (("--start-ms", "-5"), "0 to 5000 ms"),
        (("--a4", "4400"), "380 to 480 Hz"),
        (("--distance-mm", "0"), "2 to 162 mm"),
        (("--distance-mm", "300"), "2 to 162 mm"),
        (("--string", "C"), "G, D, A, E"),
        (("--string", "A", "--note", "G3"), "A4 to E6"),
        (("--note", "H4"), "write a letter"),
        (("--note", "C9"), "another note"),
        (("--instrument", "cello", "--size", "1/16"), "4/4"),
        (("--gain-db", "60"), "too loud"),
        (("--room", "-1"), "0.1 to 10 s"),
    ],
)
def test_a_bad_value_is_one_line_with_its_limit(
    colophony: Run, tmp_path: Path, arguments: tuple[str, ...], limit: str
) -> None:
    """Status 1, nothing on standard output, nothing written; the line says what is allowed."""
    wav = tmp_path / "out.wav"
    status, out, err = colophony("bow", *arguments, "--wav", wav)
    assert (status, out, err.count("\n")) == (1, "", 1)
    assert limit in err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "arguments",
    [
        ("--instrument", "guitar"),
        ("--gauge", "thick"),
        ("--weight-n", "much"),
        ("--without", "string"),
        ("--target", "gpu"),
        ("--wav", "out.mp3"),
        ("--picture", "out.png"),
        ("--room", "0.5"),
        ("--gain-db", "3"),
        ("--nonsense",),
    ],
)
def test_wrong_usage_is_status_2(colophony: Run, arguments: tuple[str, ...]) -> None:
    """Usage is told apart from bad input, and nothing is simulated."""
    status, out, err = colophony("bow", *arguments)
    assert (status, out) == (2, "")
    assert "Error:" in err


def test_the_sound_is_a_wav_at_a_safe_level(colophony: Run, tmp_path: Path) -> None:
    """48 kHz, as long as the stroke, peak -12 dB; read back by libsndfile, its pitch that of the string."""
    path = tmp_path / "a.wav"
    status, out, err = colophony("bow", "--json", "--wav", path)
    sound, rate_hz = soundfile.read(path)
    assert (status, rate_hz, len(sound)) == (0, 48_000, 48_000)
    assert "sound: " in err
    assert 20 * np.log10(np.abs(sound).max()) == pytest.approx(-12.0, abs=0.05)
    settled = sound[16_384 : 16_384 + 24_000]
    spectrum = np.abs(np.fft.rfft(settled * np.hanning(len(settled)), 1 << 18))
    expected_hz = strict_json(out)["frequency_hz"]
    near = round(expected_hz / 48_000 * (1 << 18)) + np.arange(-60, 61)
    heard_hz = near[spectrum[near].argmax()] * 48_000 / (1 << 18)
    assert heard_hz == pytest.approx(expected_hz, rel=2 / 1200 * math.log(2))


def test_a_room_makes_the_sound_ring_on(colophony: Run, tmp_path: Path) -> None:
    """The file is longer by the time that the room rings."""
    dry, wet = tmp_path / "dry.wav", tmp_path / "wet.wav"
    colophony("bow", "--wav", dry)
    colophony("bow", "--wav", wet, "--room", "1.5")
    assert soundfile.info(wet).duration > soundfile.info(dry).duration + 1.4


def test_one_gain_makes_two_strokes_comparable() -> None:
    """With the gain of the louder stroke the softer keeps its distance; too loud a gain is refused."""
    loud, soft = played(instrument="violin", string="A"), played(speed_cm_s=10.0, weight_n=0.3)
    heard, gain_db = levelled(loud, render(loud))
    other, _ = levelled(soft, render(soft), gain_db=gain_db)
    ratio = np.abs(render(soft)).max() / np.abs(render(loud)).max()
    assert np.abs(other).max() / np.abs(heard).max() == pytest.approx(ratio)
    with pytest.raises(use_case.InputError, match="too loud"):
        levelled(loud, render(loud), gain_db=gain_db + 20.0)


def test_a_string_that_hardly_moves_is_not_blown_up() -> None:
    """A bow that only lies on the string stays far softer than a clear tone at the safe level."""
    stroke = played(weight_n=0.02)
    sound, _ = levelled(stroke, render(stroke))
    assert 20 * np.log10(np.abs(sound).max()) < -30


def test_a_wav_holds_what_it_was_given() -> None:
    """16 bit: every sample to half a step, the extremes cut and not folded over (read by libsndfile)."""
    import io

    sound = np.array([0.0, 0.5, -0.25, 1.0, -1.0, 1.5, -1.5])
    back, rate_hz = soundfile.read(io.BytesIO(wav_bytes(sound, rate_hz=44_100)), dtype="int16")
    assert rate_hz == 44_100
    np.testing.assert_array_equal(back, [0, 16384, -8192, 32767, -32767, 32767, -32768])


def test_the_picture_carries_all_it_needs(colophony: Run, tmp_path: Path) -> None:
    """One SVG: state, sentence and setting in words, typefaces inside, no address to fetch from."""
    from xml.etree import ElementTree

    path = tmp_path / "a.svg"
    status, _, err = colophony("bow", "--picture", path, "--reader", "adult")
    text = path.read_text(encoding="utf-8")
    words = " ".join(ElementTree.fromstring(text).itertext())
    assert status == 0
    assert "picture: " in err
    for word in ("clear", "The tone was clear", "Violin 4/4, A string", "27.5 mm", "cm/s", "N", "ms"):
        assert word in words
    assert text.count("data:font/woff2") == 3
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_options_reach_the_request(colophony: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every option changes its own field; an option goes before the setting."""
    seen: list[Request] = []

    def stand_in(request: Request) -> Any:
        seen.append(request)
        return SimpleNamespace(motion=SimpleNamespace(warnings=("the bow lies on the bridge",)), to_json=dict)

    monkeypatch.setattr(use_case, "bow", stand_in)
    monkeypatch.setenv("COLOPHONY_INSTRUMENT", "viola")
    _, out, err = colophony(
        *("bow", "--json", "--size", "3/4", "--string", "g", "--note", "Bb3", "--gauge", "heavy"),
        *("--a4", 442, "--distance-mm", 20, "--speed-cm-s", 30, "--weight-n", 0.7, "--tilt-deg", 15),
        *("--seconds", 2, "--start-ms", 60, "--friction", "smith_2000", "--without", "body"),
        *("--without", "torsion", "--target", "python"),
    )
    assert (out, err) == ("{}\n", "Note: the bow lies on the bridge\n")
    assert seen == [
        Request(
            *("viola", "3/4", "g", "Bb3", "heavy", 442.0, 20.0, 30.0, 0.7, 15.0, 2.0, 60.0, "smith_2000"),
            without=("body", "torsion"),
            target="python",
        )
    ]


def test_choices_of_the_command_are_those_of_the_engine() -> None:
    """The lists that help shows without loading the engine."""
    assert tuple(LAWS) == command.FRICTION
    assert tuple(FULL_SIZE) == command.INSTRUMENTS
    for gauge in command.GAUGES:
        assert find_instrument("violin", gauge=gauge).string("A").gauge == gauge
    assert {*OWN_SIGNS} == {*STATES, CHOKED} - {
        "helmholtz",
        "multiple-slip",
        "raucous",
        "low-anomalous",
        "noise",
    }


def test_every_ingredient_can_be_left_out() -> None:
    """Without any of them the string still sings by default, and without a body it still is heard."""
    for ingredient in command.INGREDIENTS:
        stroke = played(without=(ingredient,))
        assert stroke.to_json()["parameters"]["without"] == [ingredient]
        assert np.abs(render(stroke)).max() > 0


def test_a_longer_bow_stroke_is_the_same_from_the_start() -> None:
    """The first half of a stroke does not depend on how long it goes on."""
    short, long = played(seconds=0.5), played(seconds=1.0)
    count = len(short.motion.sound)
    np.testing.assert_allclose(short.motion.velocity_m_s, long.motion.velocity_m_s[:count])
