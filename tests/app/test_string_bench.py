"""The String bench: settings that reopen, presets that show what they say, cures that were tried."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.app.bench import PRESETS, Preset, Setting, find_cure, limits_of, play
from colophony.app.bench.answer import words_of
from colophony.app.bench.pictures import force_picture, moving, scale_of, string_picture, velocity_picture
from colophony.app.bench.setting import FIELDS, INSTRUMENTS, choices_of
from colophony.errors import InputError
from colophony.physics.strings import FULL_SIZE

#: Guettler and Askenfelt, J. Acoust. Soc. Am. 101 (1997): with multiple slips accepted up to 90 ms.
ACCEPTED_START_S = 0.090


@st.composite
def some_settings(draw: st.DrawFn) -> Setting:
    instrument = draw(st.sampled_from(INSTRUMENTS))
    sizes = [value for value, _ in choices_of(instrument, "4/4")["size"]]
    size = draw(st.sampled_from(sizes))
    string = draw(st.sampled_from([value for value, _ in choices_of(instrument, size)["string"]]))
    usual = Setting.usual(instrument, size, string)
    limits = limits_of(usual.bowed, usual.frequency_hz)

    def within(name: str, digits: int) -> float:
        low, high = getattr(limits, name)
        return min(max(round(draw(st.floats(low, high)), digits), low), high)

    return replace(
        usual,
        distance_mm=within("distance_mm", 1),
        speed_cm_s=within("speed_cm_s", 2),
        weight_n=within("weight_n", 3),
        tilt_deg=within("tilt_deg", 0),
    )


@settings(max_examples=60, deadline=None)
@given(some_settings(), st.sampled_from(["", "kept_"]))
def test_the_fields_of_an_address_reopen_exactly_the_same_stroke(setting: Setting, prefix: str) -> None:
    fields = setting.query(prefix=prefix)
    assert set(fields) == {prefix + name for name in FIELDS}
    assert Setting.read(fields, prefix=prefix) == setting


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        ({"instrument": "zither"}, r"zither.*violin"),
        ({"size": "9/8"}, r"9/8.*4/4"),
        ({"string": "H"}, r"H.*G"),
        ({"note": "X9"}, r"X9.*F#4"),
        ({"note": "C2"}, r"C2 is not on the D string: choose D4 to A5"),
        ({"distance_mm": "400"}, r"contact distance of 400 mm.*choose 3 to \d+ mm"),
        ({"distance_mm": "nan"}, r"'nan' is not a contact distance"),
        ({"speed_cm_s": "1e9"}, r"speed of 1e\+09 cm/s.*1 to 150"),
        ({"weight_n": "-1"}, r"weight of -1 N.*0.02 to 4 N"),
        ({"weight_n": "inf"}, r"'inf' is not a weight"),
        ({"tilt_deg": "much"}, r"'much' is not a tilt: write a number of degrees"),
        ({"tilt_deg": "9" * 400}, r"out of reach|is not a tilt"),
    ],
)
def test_a_value_out_of_reach_is_said_in_one_line(fields: dict[str, str], line: str) -> None:
    with pytest.raises(InputError) as refused:
        Setting.read(fields)
    said = str(refused.value)
    assert re.search(line, said), said
    assert "\n" not in said
    assert len(said) < 200


def test_a_stopped_note_brings_the_farthest_place_nearer() -> None:
    """The bow must stay on the string's own half: at E7 the string is a quarter as long as open."""
    high = Setting.read({"string": "E", "note": "e7"})
    farthest_mm = limits_of(high.bowed, high.frequency_hz).distance_mm[1]
    assert farthest_mm < 1000 * high.length_m / 2
    assert high.sounding_note == "E7"


@pytest.mark.parametrize(
    ("instrument", "string"), [(name, string) for name in INSTRUMENTS for string in FULL_SIZE[name]]
)
def test_the_stroke_to_begin_with_sings_on_every_full_size_string(instrument: str, string: str) -> None:
    assert play(Setting.usual(instrument, "4/4", string)).is_clear


def test_a_size_changes_the_bow_and_with_it_how_long_the_hair_lasts() -> None:
    """A sixteenth's bow is about half as long as a full one (common practice, no source)."""
    full, small = (
        float(words_of(Setting.usual(size=size))["speed_cm_s"].split()[0]) for size in ("4/4", "1/16")
    )
    assert small / full == pytest.approx(0.5, abs=0.06)


def test_a_note_is_in_reach_of_the_bench_where_a_string_plays_it() -> None:
    """Two octaves and a fourth on the top string, an octave and a fifth on the others (common practice)."""
    for string, highest, beyond in (("E", "A7", "A#7"), ("A", "E6", "F6"), ("G", "D5", "D#5")):
        assert Setting.read({"string": string, "note": highest}).sounding_note == highest
        with pytest.raises(InputError, match=highest):
            Setting.read({"string": string, "note": beyond})


@pytest.mark.parametrize("preset", PRESETS, ids=lambda preset: preset.name)
def test_a_preset_shows_the_state_that_it_names(preset: Preset) -> None:
    """The engine plays it. That slow and heavy speaks near the bridge, light and fast near the fingerboard,
    and neither the other way round, is common practice, no source."""
    answer = play(preset.setting)
    assert answer.state == preset.state
    if "slow to speak" in preset.name:
        settled_s = answer.bowed.start.settling_s
        assert settled_s is not None
        assert settled_s > 2 * ACCEPTED_START_S


def test_every_state_that_a_steady_bow_reaches_has_a_preset() -> None:
    shown = {preset.state for preset in PRESETS}
    assert shown == {"helmholtz", "multiple-slip", "raucous", "low-anomalous", "noise"}


def test_the_wolf_holds_one_note_back_and_not_its_neighbours() -> None:
    """C.E. Gough, Acustica 49, 124-141 (1981): at the strongest mode of the body the least weight rises."""
    wolf = next(preset.setting for preset in PRESETS if "wolf" in preset.name)
    assert not play(wolf).is_clear
    assert play(replace(wolf, note="F3")).is_clear
    assert play(replace(wolf, note="C#3")).is_clear


@pytest.mark.parametrize("name", ["Near the bridge, light and fast", "Near the fingerboard, slow and heavy"])
def test_what_is_advised_was_tried_and_clears_the_tone(name: str) -> None:
    """One variable changes, the engine plays it, and the string slips once a vibration."""
    setting = next(preset.setting for preset in PRESETS if preset.name == name)
    cure = find_cure(play(setting))
    assert cure is not None
    changed = [field for field in FIELDS if getattr(cure.setting, field) != getattr(setting, field)]
    assert len(changed) == 1
    assert changed[0].startswith(cure.change)
    assert play(cure.setting).is_clear
    assert find_cure(play(cure.setting)) is None


def test_the_string_is_drawn_at_rest_at_its_ends_and_the_hair_at_its_place() -> None:
    answer = play(Setting.usual())
    scale = scale_of([answer])
    scene = moving(answer, scale)
    assert len(scene["xs"]) == len(scene["ys"][0])
    middle = scene["ys"][0][0]
    assert all(abs(row[0] - middle) < 3 and abs(row[-1] - middle) < 3 for row in scene["ys"])
    # Helmholtz (1863): one corner runs to the one end and back; over two vibrations it meets both ends twice.
    xs = [x for x, _ in scene["corners"]]
    low, high = min(scene["xs"]), max(scene["xs"])
    assert min(xs) < low + 0.12 * (high - low)
    assert max(xs) > low + 0.88 * (high - low)
    turns = sum((a - b) * (b - c) < 0 for a, b, c in zip(xs, xs[2:], xs[4:], strict=False))
    assert turns >= 3
    drawn = string_picture(answer, scale)
    place = float(re.findall(r'class="c-edge hair" x="([\d.]+)"', drawn)[0])
    width = float(re.findall(r'class="c-edge hair" x="[\d.]+" y="4" width="([\d.]+)"', drawn)[0])
    per_mm = (high - low) / (1000 * answer.setting.length_m)
    assert place + width / 2 == pytest.approx(low + 27.5 * per_mm, abs=1.0)
    assert width == pytest.approx(1000 * answer.bowed.instrument.ribbon.width_m * per_mm, rel=0.15)


def test_two_strokes_share_one_scale() -> None:
    soft, strong = play(Setting.usual()), play(replace(Setting.usual(), speed_cm_s=40.0))
    both = scale_of([soft, strong])
    assert both == scale_of([strong, soft])
    assert both.times <= scale_of([soft]).times
    assert both.force_n[1] >= scale_of([soft]).force_n[1]
    for draw in (string_picture, velocity_picture, force_picture):
        assert draw(soft, both) != draw(strong, both)


def test_words_say_what_a_hand_knows() -> None:
    words = words_of(Setting.usual())
    assert words["distance_mm"] == "sounding point 3, midway"
    assert words["speed_cm_s"] == "65 cm of hair last 3.2 s"
    assert "chocolate" in words["weight_n"]  # 0.87 N are 89 g, nearest to a bar of 100 g
