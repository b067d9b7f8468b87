"""What the string did, against waveforms of published shape and strokes whose slips were counted at the bow.

Shapes: *Euphonics* 9.4.2 (one slip), Schoonderwaldt, *JASA* 126 (2009) (several), Schelleng, *JASA* 53 (1973)
(raucous), Hanson, Schneider & Halgedahl, *CASJ* 2(6) (1994) (low anomalous), Percival (PhD, Glasgow 2013)
(plucked). Counting: J. Woodhouse, *Acustica* 78 (1993); see `signals.stickslip`. Each goes through a body, a
room, a microphone and a noise of 20 to 50 dB of its own, every second one through a codec or 16 kHz as well.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.listening.take import Take, ToneState
from hearing import (
    LEAD_S,
    RATE,
    accused,
    brief,
    heard,
    heard_file,
    longest,
    phone_of,
    recording,
    share,
    simulated,
)
from signals import (
    add_noise,
    double_stop,
    fade,
    flageolet,
    hair_noise,
    helmholtz,
    join,
    low_anomalous,
    multiple_slip,
    normalise,
    plucked,
    ponticello,
    raucous,
    short_strokes,
    silence,
    tremolo,
)
from signals.stickslip import bow
from signals.strings import Signal

GOOD = (ToneState.STEADY, ToneState.HELMHOLTZ)
NOTES_HZ = {
    "C2": 65.41, "G2": 98.00, "D3": 146.83, "G3": 196.00, "A3": 220.00, "D4": 293.66, "A4": 440.00,
    "E5": 659.26, "A5": 880.00, "E6": 1318.51, "A6": 1760.00, "E7": 2637.02,
}  # fmt: skip
FEW_HZ = {name: NOTES_HZ[name] for name in ("G2", "G3", "D4", "E5", "E6")}
SECONDS = 1.5


def kind_of(hz: float) -> str:
    return "cello" if hz < 130 else "viola" if hz < 190 else "violin"


def seed_of(hz: float, number: int) -> int:
    return 90_000 + 50 * round(12 * math.log2(hz / 65.4)) + number


def take_of(force: Signal, hz: float, seed: int, **how: object) -> Take:
    return heard(fade(force, rate=RATE), seed, kind=kind_of(hz), phone=phone_of(seed), **how)


def inner(take: Take, *states: ToneState) -> float:
    return share(take, 0.25, SECONDS - 0.25, *states)


@pytest.mark.parametrize("number", [0, 1, 2])
@pytest.mark.parametrize("note", NOTES_HZ)
def test_one_slip_a_period_is_steady_and_no_fault(note: str, number: int) -> None:
    """The sawtooth of Euphonics 9.4.2, still and with vibrato: clean for 95 % of its inner time."""
    hz, seed = NOTES_HZ[note], seed_of(NOTES_HZ[note], number)
    force = helmholtz(hz, SECONDS, rate=RATE, vibrato_cents=(0.0, 12.0, 25.0)[number], seed=seed)
    take = take_of(force, hz, seed)
    assert inner(take, *GOOD) >= 0.95, brief(take)
    assert not accused(take), brief(take)


@pytest.mark.parametrize("make", [flageolet, ponticello])
@pytest.mark.parametrize("note", ["D3", "D4", "E5"])
def test_flageolets_and_tones_near_the_bridge_are_no_fault(make: object, note: str) -> None:
    """Other spectra, one slip a period: colour is no fault (common practice, no source)."""
    hz, seed = NOTES_HZ[note], seed_of(NOTES_HZ[note], 5)
    take = take_of(make(hz, SECONDS, rate=RATE, seed=seed), hz, seed)  # type: ignore[operator]
    assert inner(take, *GOOD) >= 0.95, brief(take)
    assert not accused(take), brief(take)


@pytest.mark.parametrize("drift_hz", [0.0, 0.4])
@pytest.mark.parametrize("slips", [2, 3])
@pytest.mark.parametrize("note", FEW_HZ)
def test_several_slips_a_period_are_periodic_and_so_never_raucous(
    note: str, slips: int, drift_hz: float
) -> None:
    """Schoonderwaldt (2009). Locked or wandering slowly, sound alone tells "steady" as a rule."""
    hz, seed = FEW_HZ[note], seed_of(FEW_HZ[note], 10 + slips)
    force = multiple_slip(hz, SECONDS, rate=RATE, slips=slips, drift_hz=drift_hz, seed=seed)
    take = take_of(force, hz, seed)
    assert longest(take).state in (ToneState.STEADY, ToneState.MULTIPLE_SLIP), brief(take)
    assert not accused(take, ToneState.RAUCOUS), brief(take)


@pytest.mark.parametrize("number", [20, 21, 22])
@pytest.mark.parametrize("note", FEW_HZ)
def test_slips_without_a_period_are_never_called_steady(note: str, number: int) -> None:
    """Schelleng's raucous motion: intervals of log-normal length, some up to three periods."""
    hz, seed = FEW_HZ[note], seed_of(FEW_HZ[note], number)
    take = take_of(raucous(hz, SECONDS, rate=RATE, seed=seed), hz, seed)
    assert inner(take, *GOOD) < 0.05, brief(take)
    assert all(s.state in (ToneState.RAUCOUS, ToneState.UNSURE) for s in take.strokes), brief(take)


PRESSED = range(95_000, 95_060)


@cache
def pressed() -> tuple[float, float]:
    """Return the shares of the time that were heard as raucous and as good.

    60 runs at 1.5 to 4 times Schelleng's upper limit; of the time in which the string slipped at random, more
    than once in five periods (counted at the bow): a string that is held makes no sound to judge.
    """
    total = found = good = 0.0
    for seed in PRESSED:
        for seconds, take, a, b in simulated(seed, 1.5, 4.0).slipping("raucous"):
            total += seconds
            found += seconds * share(take, a - LEAD_S, b - LEAD_S, ToneState.RAUCOUS)
            good += seconds * share(take, a - LEAD_S, b - LEAD_S, *GOOD)
    assert total > 20.0
    return found / total, good / total


def test_simulated_strokes_with_too_much_weight_are_heard_as_raucous_or_left_unsure() -> None:
    """Measured: raucous for 53 % of the time, good for 0.4 %, else unsure or no stroke at all."""
    found, good = pressed()
    assert found > 0.45
    assert good < 0.02


PLAYED = range(96_000, 96_030)


def test_few_simulated_strokes_within_the_limits_are_accused() -> None:
    """30 runs at a quarter to nine tenths of the upper limit: of the time with one slip a period, 2 %."""
    total = wrong = 0.0
    for seed in PLAYED:
        for seconds, take, a, b in simulated(seed, 0.25, 0.9).slipping("helmholtz"):
            total += seconds
            wrong += seconds * (1 - share(take, a - LEAD_S, b - LEAD_S, *GOOD, ToneState.UNSURE))
    assert total > 10.0
    assert wrong / total < 0.02


@pytest.mark.parametrize("note", ["G2", "D3", "G3", "D4", "A4", "E5"])
def test_a_period_longer_than_the_notes_is_never_raucous_and_needs_the_note_to_be_known(note: str) -> None:
    """Hanson, Schneider & Halgedahl (1994): periodic, about an octave low. Unsaid, it is just a low note."""
    hz, seed = NOTES_HZ[note], seed_of(NOTES_HZ[note], 30)
    force = fade(low_anomalous(hz, SECONDS, rate=RATE, seed=seed), rate=RATE)
    sound = recording(force, seed, kind=kind_of(hz))
    alone = heard_file(sound, RATE)
    assert not accused(alone, ToneState.RAUCOUS), brief(alone)
    if hz > 140:  # half of G2 and C2 lies below the range of listening
        assert longest(heard_file(sound, RATE, expect=[note])).state is ToneState.LOW_ANOMALOUS
        assert longest(alone).state is ToneState.STEADY


@pytest.mark.xfail(reason="below 40 Hz no pitch is looked for, so a low anomalous C2 has no period")
def test_a_low_anomalous_tone_on_the_cellos_lowest_string_is_not_raucous() -> None:
    """Half of C2 is 34 Hz."""
    for number in range(3):
        seed = seed_of(65.41, 30 + number)
        take = take_of(low_anomalous(65.41, SECONDS, rate=RATE, seed=seed), 65.41, seed)
        assert not accused(take, ToneState.RAUCOUS), brief(take)


@pytest.mark.parametrize(("instrument", "hz"), [("violin", 196.0), ("viola", 130.81), ("violin", 220.0)])
def test_a_periodic_tone_below_the_lowest_string_is_low_anomalous(instrument: str, hz: float) -> None:
    """No finger makes a string longer than it is."""
    seed = seed_of(hz, 35)
    force = fade(low_anomalous(hz, SECONDS, rate=RATE, seed=seed), rate=RATE)
    take = heard(force, seed, kind=instrument, instrument=instrument)
    assert longest(take).state is ToneState.LOW_ANOMALOUS, brief(take)


@pytest.mark.parametrize(
    "seed",
    [
        pytest.param(97_000, marks=pytest.mark.xfail(reason="this one is left unsure")),
        97_001,
        97_002,
        97_003,
    ],
)
def test_where_a_stroke_turns_raucous_and_clean_again_is_told_within_150_ms(seed: int) -> None:
    """Weight rises to three times Schelleng's limit and falls again; truth: slips counted at the bow.

    First the string is held and nothing sounds: what is heard begins with the first slip after that.
    """
    hz = float(np.random.default_rng(seed).uniform(150, 500))
    highest = 2 * 0.35 * 0.2 / (0.1 * 0.45)
    weight = np.repeat([0.5, 0.5, 3.2, 3.2, 0.5, 0.5], 20) * highest
    run = bow(hz, 3.6, rate=RATE, speed=[0.0, *[0.2] * 40], weight=weight, seed=seed)
    [truth] = [s for s in run.spans if s.state == "raucous" and s.end_s - s.start_s > 0.4]
    starts_s = run.slips_s[(run.slips_s > truth.start_s + 0.05) & (run.slips_s < truth.end_s)][0]
    take = heard(run.force, seed, kind=kind_of(hz), phone=phone_of(seed))
    spans = [p for s in take.strokes for p in s.spans if p.state is ToneState.RAUCOUS]
    assert spans, brief(take)
    assert min(p.start_s for p in spans) - LEAD_S == pytest.approx(starts_s, abs=0.15), brief(take)
    assert max(p.end_s for p in spans) - LEAD_S == pytest.approx(truth.end_s, abs=0.15), brief(take)


INTERVALS = {"minor third": (6 / 5, 3), "third": (5 / 4, 4), "fourth": (4 / 3, 5), "fifth": (3 / 2, 7),
             "sixth": (5 / 3, 9)}  # fmt: skip


@pytest.mark.parametrize("pure", [True, False])
@pytest.mark.parametrize("interval", INTERVALS)
@pytest.mark.parametrize("low_hz", [196.0, 392.0])
def test_double_stops_from_the_violins_g_up_are_never_raucous(
    low_hz: float, interval: str, pure: bool, request: pytest.FixtureRequest
) -> None:
    """Two sawtooths, in whole-number ratios or tempered: neither string does anything wrong."""
    if (low_hz, interval, pure) == (196.0, "sixth", False):
        reason = "one of the two pitches is missed, and the other taken for rough"
        request.applymarker(pytest.mark.xfail(reason=reason))
    ratio, semitones = INTERVALS[interval]
    seed = seed_of(low_hz, 40) + 2 * semitones + pure
    force = double_stop(
        low_hz, low_hz * (ratio if pure else 2 ** (semitones / 12)), SECONDS, rate=RATE, seed=seed
    )
    take = take_of(force, low_hz, seed)
    assert not accused(take), brief(take)


@pytest.mark.xfail(reason="close tempered intervals on a cello's low strings are taken for one rough tone")
def test_double_stops_on_a_cellos_low_strings_are_never_raucous() -> None:
    """As above, from G2."""
    takes = [
        take_of(
            double_stop(98.0, 98.0 * 2 ** (n / 12), SECONDS, rate=RATE, seed=72_000 + n), 98.0, 72_000 + n
        )
        for n in (3, 4, 5, 9)
    ]
    assert not any(accused(take) for take in takes)


PLUCKED = range(73_000, 73_016)


@cache
def plucked_take(seed: int) -> Take:
    rng = np.random.default_rng((seed, 5))
    hz, point = float(np.exp(rng.uniform(np.log(150), np.log(600)))), float(rng.uniform(0.1, 0.35))
    return heard(
        plucked(hz, SECONDS, rate=RATE, point=point, seed=seed), seed, kind=kind_of(hz), phone=phone_of(seed)
    )


def test_most_plucked_notes_are_told_from_bowed_ones_and_none_is_a_fault() -> None:
    """Percival (2013): stretched partials that die away. Half of them at least."""
    states = [longest(plucked_take(seed)).state for seed in PLUCKED]
    assert states.count(ToneState.PLUCKED) >= len(states) / 2
    assert set(states) <= {ToneState.PLUCKED, *GOOD, ToneState.UNSURE}


def test_short_bowed_strokes_are_seldom_taken_for_plucked() -> None:
    """Partials of a bowed string are whole multiples however short the stroke: one in twenty at most."""
    states = []
    for seed in range(73_100, 73_108):
        rng = np.random.default_rng((seed, 5))
        hz, stroke_s = float(np.exp(rng.uniform(np.log(100), np.log(700)))), float(rng.uniform(0.2, 0.5))
        force = short_strokes([hz] * 4, rate=RATE, stroke_s=stroke_s, gap_s=0.15, seed=seed).signal
        states += [s.state for s in heard(force, seed, kind=kind_of(hz)).strokes]
    assert len(states) >= 24
    assert states.count(ToneState.PLUCKED) <= len(states) / 20
    assert states.count(ToneState.RAUCOUS) <= len(states) / 20


@pytest.mark.parametrize("below_db", [12.0, 20.0, 28.0])
@pytest.mark.parametrize("seed", [71_200, 71_203, 71_204])
def test_hair_noise_weaker_than_the_tone_is_neither_steady_nor_raucous(seed: int, below_db: float) -> None:
    """Hair that slides without catching: filtered noise at the same bridge, well below the take's tones."""
    tone = recording(
        fade(helmholtz(440.0, 1.2, rate=RATE, seed=seed), rate=RATE), seed, snr_db=60, kind="violin"
    )
    noise = recording(fade(hair_noise(1.2, rate=RATE, seed=seed), rate=RATE), seed, snr_db=60, kind="violin")
    noise *= 10 ** (-below_db / 20) * np.std(tone) / np.std(noise)
    take = heard_file(np.concatenate([tone, noise]), RATE)
    later = [s for s in take.strokes if s.start_s > len(tone) / RATE]
    assert all(s.state in (ToneState.NOISE, ToneState.UNSURE) for s in later), brief(take)
    assert all(s.note is None or s.confidence == 0.0 for s in later), brief(take)


HAIR = range(71_000, 71_006)


def test_hair_noise_alone_is_never_steady() -> None:
    for seed in HAIR:
        take = heard(fade(hair_noise(1.2, rate=RATE, seed=seed), rate=RATE), seed)
        assert not any(p.state in GOOD for s in take.strokes for p in s.spans), brief(take)


def test_hair_noise_alone_is_not_raucous() -> None:
    for seed in HAIR:
        take = heard(fade(hair_noise(1.2, rate=RATE, seed=seed), rate=RATE), seed)
        assert not accused(take, ToneState.RAUCOUS), brief(take)


@pytest.mark.parametrize("noise", ["pink", "white", "hum50"])
@pytest.mark.parametrize("note", ["G2", "D4", "E5"])
def test_noise_ten_decibels_below_a_good_tone_does_not_make_it_a_fault(note: str, noise: str) -> None:
    """Noise fills the gaps between harmonics as random slips do: unsure at most."""
    hz, seed = NOTES_HZ[note], seed_of(NOTES_HZ[note], 45)
    tone = fade(helmholtz(hz, SECONDS, rate=RATE, seed=seed), rate=RATE)
    sound = recording(tone, seed, kind=kind_of(hz), snr_db=70)
    noisy = add_noise(sound, rate=RATE, snr_db=10, kind=noise, seed=seed)  # type: ignore[arg-type]
    take = heard_file(normalise(noisy), RATE)
    assert not accused(take), brief(take)


@pytest.mark.parametrize("note", ["D3", "A4", "E5"])
def test_a_tremolo_is_no_fault(note: str) -> None:
    """Ten reversals a second (common practice, no source) unsettle every period and are wanted."""
    hz, seed = NOTES_HZ[note], seed_of(NOTES_HZ[note], 47)
    take = take_of(tremolo(hz, SECONDS, rate=RATE, seed=seed), hz, seed)
    assert not accused(take), brief(take)


@cache
def mixed() -> Signal:
    """Return a recording of a clean, a pressed and a plucked note and one changed bow, with rests."""
    rest = silence(0.4, rate=RATE)
    parts = [
        fade(helmholtz(293.66, 1.2, rate=RATE, vibrato_cents=15, seed=1), rate=RATE),
        rest,
        fade(raucous(293.66, 1.0, rate=RATE, seed=2), rate=RATE),
        rest,
        3 * plucked(440.0, 1.0, rate=RATE, seed=3),
        rest,
        fade(
            np.concatenate([helmholtz(196.0, 1.0, rate=RATE, speed=s, seed=4) for s in (0.2, -0.2)]),
            rate=RATE,
        ),
    ]
    return recording(join(parts, rate=RATE).signal, 98_000, kind="violin", room_s=0.2, snr_db=45)


def told(take: Take) -> list[tuple[object, ...]]:
    return [(s.note, s.state, s.way, s.reversal, len(s.spans), s.onset.kind) for s in take.strokes]


def test_the_same_recording_is_heard_the_same_twice() -> None:
    """Nothing random, nothing left over from the last take."""
    one, two = (heard_file(mixed(), RATE) for _ in range(2))
    assert one.strokes == two.strokes
    assert one.warnings == two.warnings


@settings(max_examples=5, deadline=None, derandomize=True)
@given(gain_db=st.floats(-40.0, 0.0), polarity=st.sampled_from([1.0, -1.0]))
def test_gain_and_polarity_change_no_verdict(gain_db: float, polarity: float) -> None:
    """The setting of a microphone and the sense of its wires say nothing of the string."""
    plain = heard_file(mixed(), RATE)
    other = heard_file(polarity * 10 ** (gain_db / 20) * mixed(), RATE)
    assert told(other) == told(plain)


def test_a_long_take_is_heard_as_its_parts_are() -> None:
    """A take of over 45 s is cut into passages where it is quiet: that may change no stroke."""
    part = mixed()
    alone = heard_file(part, RATE).strokes
    whole = heard_file(np.tile(part, 9), RATE).strokes
    assert len(part) * 9 / RATE > 50.0
    assert len(whole) == 9 * len(alone)
    for i, stroke in enumerate(whole):
        assert (stroke.note, stroke.state) == (alone[i % len(alone)].note, alone[i % len(alone)].state)
        at_s = i // len(alone) * len(part) / RATE
        assert stroke.start_s - at_s == pytest.approx(alone[i % len(alone)].start_s, abs=0.06)


def test_what_a_take_cannot_tell_is_none_and_never_not_a_number() -> None:
    """Every figure of every stroke is finite or None."""
    for stroke in heard_file(mixed(), RATE).strokes:
        values = [
            stroke.frequency_hz, stroke.cents, stroke.harmonicity_db, stroke.onset.settling_ms,
            stroke.onset.uncertainty_ms, stroke.steadiness.level_swing_db, stroke.steadiness.vibrato_hz,
            stroke.steadiness.pitch_swing_cents, stroke.brightness.centroid_hz, *stroke.harmonics_db,
            *(v for e in stroke.evidence for v in e.values.values() if isinstance(v, float)),
        ]  # fmt: skip
        assert all(v is None or math.isfinite(v) for v in values)
        assert stroke.brightness.against_reference_db is None
    plucked_note = next(s for s in heard_file(mixed(), RATE).strokes if s.state is ToneState.PLUCKED)
    assert plucked_note.bow is None
    assert plucked_note.steadiness == replace(
        plucked_note.steadiness, level_swing_db=None, vibrato_hz=None, vibrato_cents=None
    )
