"""Use case: bow a string and say what it did. Command line and pages come through here."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from colophony.app.phrases import hair_words, string_words
from colophony.errors import InputError
from colophony.language import N_, _, figures
from colophony.physics.friction import LAWS
from colophony.physics.limits import guettler_2002, schelleng_1973, schoonderwaldt_2008
from colophony.physics.strings import BowedString, highest_note, strings_that_play
from colophony.teaching import wording
from colophony.teaching.findings import Reader
from colophony.teaching.room import TYPICAL_SPEED_M_S, Rooms, weight_range_n
from colophony.teaching.sounding_points import MIDDLE, point_to_m
from colophony.teaching.wording.bowed import (
    CHOKED,
    S_MOTION,
    simulated_cure,
    simulated_sentence,
    simulated_word,
    told_state,
)
from colophony.units import midi_to_note, note_to_hz, note_to_midi

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from colophony.physics.instruments import Instrument
    from colophony.physics.motion import Motion
    from colophony.physics.regimes import Reading, Start
    from colophony.physics.simulation import Model

Target = Literal["cpu", "python", "cuda"]
Ingredient = Literal["torsion", "stiffness", "hair", "body"]

RATE_HZ = 48_000  #: of the sound that leaves
_SOFTEST_DB = -120.0  #: gain given by hand
_LOUDEST_DB = -1.0  #: peak that a gain given by hand may reach, dB below full scale
#: Shapes of the string over two periods: enough for an envelope without steps.
_FRAMES = 240
#: States in which a start can have settled.
_TONES = ("helmholtz", S_MOTION)

#: What a stroke may ask for: field, name, unit, least, greatest. The weight reaches the bow's own on a bass.
_LIMITS: tuple[tuple[str, str, str, float, float], ...] = (
    ("speed_cm_s", N_("a speed"), "cm/s", 0.5, 300.0),
    ("weight_n", N_("a weight"), "N", 0.005, 20.0),
    ("tilt_deg", N_("a tilt"), N_("degrees"), 0.0, 60.0),
    ("seconds", N_("a duration"), "s", 0.2, 60.0),
    ("start_ms", N_("a start"), "ms", 0.0, 5000.0),
    ("a4_hz", N_("a tuning of A4"), "Hz", 380.0, 480.0),
)
_NEAREST_MM = 2.0
_FARTHEST_SHARE = 0.5

#: A stroke that nobody described further: the middle sounding point, a whole bow in about three seconds,
#: two fifths of the greatest weight that was measured (Schoonderwaldt, Guettler and Askenfelt 2008), and the
#: least acceleration that starts without fault (Guettler 2002, friction as in Schoonderwaldt et al.) less a
#: fifth: so 14 of the 16 open full-size strings of the catalogue start as players accept, 11 without.
_SHARE_OF_GREATEST = 0.4
_START_SHARE = 0.8
_DEFAULT_WEIGHT_N = (0.01, 10.0)
_START_MS = (10.0, 300.0)


@dataclass(frozen=True, slots=True)
class Request:
    """A stroke to simulate, in a player's units. What is None is filled in: see `settle`."""

    instrument: str = "violin"
    size: str = "4/4"
    string: str | None = None  #: letter or open note; the likeliest for the note, else A
    note: str | None = None  #: the open string when None
    gauge: str = "medium"
    a4_hz: float = 440.0
    distance_mm: float | None = None  #: bow to bridge
    speed_cm_s: float = 100.0 * TYPICAL_SPEED_M_S
    weight_n: float | None = None
    tilt_deg: float = 0.0  #: from flat hair
    seconds: float = 1.0
    start_ms: float | None = None  #: from rest to full speed
    friction: str = next(iter(LAWS))  #: a key of `colophony.physics.friction.LAWS`
    without: tuple[Ingredient, ...] = ()  #: parts of the model left out
    target: Target = "cpu"


@dataclass(frozen=True, slots=True, eq=False)
class Bowed:
    """A stroke and what the string did; every field of ``request`` is filled in."""

    request: Request
    instrument: Instrument
    string: BowedString
    motion: Motion
    reading: Reading
    start: Start

    @property
    def frequency_hz(self) -> float:
        """Frequency of the note asked for, Hz."""
        return _frequency_hz(self.request, self.string)

    @property
    def length_m(self) -> float:
        """Sounding length at that note, m."""
        return self.string.stopped_length_m(self.frequency_hz)

    @property
    def rooms(self) -> Rooms:
        """How much room the stroke has, computed with the same model: takes a moment the first time."""
        from colophony.app.rooms import rooms_of_stroke

        request = self.request
        return rooms_of_stroke(
            self.instrument,
            self.string,
            frequency_hz=self.frequency_hz,
            distance_m=self.motion.beta * self.length_m,
            speed_m_s=request.speed_cm_s / 100.0,
            weight_n=request.weight_n or 0.0,
            tilt_deg=request.tilt_deg,
            model=_model(request),
        )

    @property
    def told_state(self) -> str:
        """The state as it is told: `colophony.teaching.wording.bowed.told_state`."""
        speed_m_s = self.request.speed_cm_s / 100.0
        _, greatest_n = weight_range_n(self.string, beta=self.motion.beta, speed_m_s=speed_m_s)
        return told_state(
            str(self.reading.state), weight_n=self.request.weight_n or 0.0, greatest_n=greatest_n
        )

    @property
    def word(self) -> str:
        """The word that stands beside the state's sign."""
        return simulated_word(self.told_state)

    def says(self, reader: Reader) -> str:
        """Return what the string did, and how it began where that is known, in the words of a reader."""
        said = [simulated_sentence(self.told_state, reader=reader)]
        told = self.start.kind == "clean" or self.start.accepted is False
        if told and self.told_state in _TONES:
            said.append(wording.STARTS[self.start.kind].to(reader))
        return " ".join(said)

    def means(self, reader: Reader) -> str:
        """Return what that means for the player: what to change, or how much room there is."""
        weight_n = self.request.weight_n or 0.0
        if self.told_state == "helmholtz":
            if reader == "child":
                return _("That is the sound to look for.")
            return wording.room_words(self.rooms, weight_n=weight_n, reader=reader)
        cure = simulated_cure(
            self.told_state,
            shortened=self.string.sounding_length_m / self.length_m,
            rooms=self.rooms,
            weight_n=weight_n,
        )
        return cure.to(reader) if cure else ""

    def to_json(self) -> dict[str, Any]:
        """Return the answer as plain JSON values; ``docs/bow.schema.json`` describes it."""
        reading, request = self.reading, self.request
        settling_s = self.start.settling_s
        return {
            "parameters": {
                "instrument": request.instrument,
                "size": request.size,
                "string": self.string.name,
                "note": request.note,
                "note_hz": _figure(self.frequency_hz, 2),
                "gauge": request.gauge,
                "a4_hz": request.a4_hz,
                "distance_mm": request.distance_mm,
                "simulated_distance_mm": _figure(1000.0 * self.motion.beta * self.length_m, 2),
                "speed_cm_s": request.speed_cm_s,
                "weight_n": request.weight_n,
                "tilt_deg": request.tilt_deg,
                "seconds": request.seconds,
                "start_ms": request.start_ms,
                "friction": request.friction,
                "without": list(request.without),
                "target": request.target,
            },
            "state": str(reading.state),
            "frequency_hz": _figure(reading.frequency_hz, 2),
            "cents_from_free_string": _figure(reading.cents_from_free_string, 1),
            "slips_per_period": _figure(reading.slips_per_period, 2),
            "slip_fraction": _figure(reading.slip_fraction, 4),
            "settling_ms": None if settling_s is None else _figure(1000.0 * settling_s, 1),
            "bridge_force_peak_to_peak_n": _figure(reading.bridge_force_peak_to_peak_n, 4),
            "centroid_hz": _figure(reading.centroid_hz or None, 0),
        }


def bow(request: Request) -> Bowed:
    """Simulate a stroke and read what the string did.

    Raises `InputError` with one line for a person: a value out of range, an unknown name, a target that
    this machine lacks.
    """
    from colophony.physics.gestures import steady
    from colophony.physics.instruments import find_instrument
    from colophony.physics.regimes import read_motion, read_start
    from colophony.physics.simulation import simulate

    check(request)
    instrument = find_instrument(request.instrument, request.size, gauge=request.gauge, a4_hz=request.a4_hz)
    string = instrument.string(request.string or _likeliest_string(request))
    request = settle(request, string)
    assert request.distance_mm is not None
    assert request.weight_n is not None
    assert request.start_ms is not None
    stroke = steady(
        request.speed_cm_s / 100.0,
        request.weight_n,
        request.distance_mm / 1000.0,
        tilt_deg=request.tilt_deg,
        ramp_s=request.start_ms / 1000.0,
    )
    motion = simulate(
        instrument,
        string,
        stroke,
        frequency_hz=_frequency_hz(request, string),
        seconds=request.seconds,
        model=_model(request),
        frames=_FRAMES,
        target=request.target,
    )
    return Bowed(request, instrument, string, motion, read_motion(motion), read_start(motion))


def check(request: Request) -> None:
    """Raise `InputError` for the first number that is out of range, whatever the string."""
    for field, what, unit, least, most in _LIMITS:
        value = getattr(request, field)
        if value is not None and not least <= value <= most:
            raise InputError(
                _("{what} of {value} {unit} is out of range: choose {least} to {most} {unit}").format(
                    what=_(what),
                    value=figures(f"{value:g}"),
                    unit=_(unit),
                    least=figures(f"{least:g}"),
                    most=figures(f"{most:g}"),
                )
            )


def settle(request: Request, string: BowedString) -> Request:
    """Return a request with everything filled in that was left open, so that by default the string sings.

    Raises `InputError` for a note that the string cannot play and a distance that it has no room for.
    """
    note = string.note if request.note is None else midi_to_note(note_to_midi(request.note))
    request = replace(request, string=string.name, note=note)
    frequency_hz = _frequency_hz(request, string)
    _check_note(string, note)
    length_m = string.stopped_length_m(frequency_hz)
    distance_mm = request.distance_mm
    if distance_mm is None:
        distance_mm = round(1000.0 * point_to_m(MIDDLE, string, frequency_hz=frequency_hz), 1)
    most_mm = 1000.0 * _FARTHEST_SHARE * length_m
    if not _NEAREST_MM <= distance_mm <= most_mm:
        raise InputError(
            _(
                "a distance of {distance} mm is out of range: from the bridge to the middle of the string "
                "at {note} it is {least} to {most} mm"
            ).format(
                distance=figures(f"{distance_mm:g}"),
                note=note,
                least=f"{_NEAREST_MM:g}",
                most=f"{most_mm:.0f}",
            )
        )
    beta, speed_m_s = distance_mm / 1000.0 / length_m, request.speed_cm_s / 100.0
    weight_n = request.weight_n
    if weight_n is None:
        greatest_n = weight_range_n(string, beta=beta, speed_m_s=speed_m_s)[1]
        weight_n = float(f"{_SHARE_OF_GREATEST * greatest_n:.2g}")
        weight_n = min(max(weight_n, _DEFAULT_WEIGHT_N[0]), _DEFAULT_WEIGHT_N[1])
    start_ms = request.start_ms
    if start_ms is None:
        least_m_s2 = guettler_2002.acceleration_window_m_s2(
            F=weight_n,
            Z0=string.impedance_kg_s,
            f0=frequency_hz,
            beta=min(beta, 0.45),
            mu_s=schoonderwaldt_2008.MU_S,
            mu_d=schoonderwaldt_2008.MU_D,
        )[0]
        start_ms = float(round(1000.0 * speed_m_s / (_START_SHARE * least_m_s2)))
        start_ms = min(max(start_ms, _START_MS[0]), _START_MS[1])
    return replace(request, distance_mm=distance_mm, weight_n=weight_n, start_ms=start_ms)


def render(bowed: Bowed, *, room_s: float = 0.0) -> NDArray[np.float64]:
    """Return the sound of a stroke at `RATE_HZ`, not yet at a level; see `colophony.physics.sound`.

    ``room_s`` is the reverberation time of a room around it, s; 0 is none. Raises `InputError` when it is
    out of range.
    """
    from colophony.physics.sound import Room, render_sound

    return render_sound(bowed.motion, rate_hz=RATE_HZ, room=Room(room_s) if room_s != 0.0 else None)


def levelled(
    bowed: Bowed, sound: NDArray[np.float64], *, gain_db: float | None = None
) -> tuple[NDArray[np.float64], float]:
    """Return the sound of a stroke at a safe level, and the gain in dB that brought it there.

    A stroke whose bridge feels less than half of the clean tone's force stays softer by as much: a string
    that hardly moves is not blown up. With ``gain_db``, the gain of another stroke, both compare in
    loudness; raises `InputError` when that would be too loud.
    """
    from colophony.physics.sound import SAFE_PEAK_DB, common_gain

    motion = bowed.motion
    clean_n = schelleng_1973.bridge_force_peak_to_peak_n(
        Z0=motion.impedance_kg_s, vb=bowed.request.speed_cm_s / 100.0, beta=motion.beta
    )
    strength = min(1.0, 2.0 * bowed.reading.bridge_force_peak_to_peak_n / clean_n)
    safe = common_gain([sound])
    gain = safe * max(strength, 1e-4)
    if gain_db is not None:
        most_db = 20.0 * math.log10(safe) - SAFE_PEAK_DB + _LOUDEST_DB
        if not _SOFTEST_DB <= gain_db <= most_db:
            raise InputError(
                _(
                    "a gain of {gain} dB is out of range for this stroke: choose {least} to {most} dB, "
                    "above which it is too loud"
                ).format(
                    gain=figures(f"{gain_db:g}"),
                    least=figures(f"{_SOFTEST_DB:g}"),
                    most=figures(f"{most_db:.1f}"),
                )
            )
        gain = 10.0 ** (gain_db / 20.0)
    return gain * sound, 20.0 * math.log10(gain)


def picture(bowed: Bowed, *, reader: Reader) -> str:
    """Return the picture of a stroke as the text of an SVG file."""
    from colophony.app.look.stroke_picture import Caption, stroke_picture

    request = bowed.request
    distance_m = (request.distance_mm or 0.0) / 1000.0
    caption = Caption(
        state=bowed.told_state,
        word=bowed.word,
        sentence=bowed.says(reader),
        setting=f"{describe_string(bowed)}. {describe_bow(bowed)}.",
        figures=short_figures(bowed),
        distance_m=distance_m,
        ribbon_m=bowed.instrument.ribbon.width_m,
        hair=bowed.instrument.ribbon.lay(request.tilt_deg),
        sounding_length_m=bowed.length_m,
        stopped=request.note != bowed.string.note,
    )
    return str(stroke_picture(bowed.motion, caption))


def describe_string(bowed: Bowed) -> str:
    """Return what was bowed: "Violin 4/4, A string, open A4"."""
    from colophony.app.look.figures import note

    request = bowed.request
    return string_words(
        instrument=request.instrument,
        size=request.size,
        string=bowed.string.name,
        gauge=request.gauge,
        note=note(request.note),
        is_open=request.note == bowed.string.note,
    )


def describe_bow(bowed: Bowed) -> str:
    """Return how it was bowed, in a player's units, with a weight that a hand knows."""
    request = bowed.request
    weight_n = request.weight_n or 0.0
    return _("Bow {distance} mm from the bridge, {speed} cm/s, {weight} N (about {hand}), {hair}").format(
        distance=figures(f"{request.distance_mm:g}"),
        speed=figures(f"{request.speed_cm_s:g}"),
        weight=figures(f"{weight_n:g}"),
        hand=wording.hand_weight(weight_n),
        hair=hair_words(request.tilt_deg),
    )


def short_figures(bowed: Bowed) -> list[tuple[str, str]]:
    """Return the few figures that stand below a picture, as (name, value)."""
    from colophony.app.look.figures import UNKNOWN, cents, percent, with_unit

    reading = bowed.reading
    pitch = slips = UNKNOWN
    if bowed.told_state not in (CHOKED, "noise"):
        pitch = with_unit(reading.frequency_hz, "Hz", 1)
        if reading.cents_from_free_string is not None:
            pitch += f", {cents(reading.cents_from_free_string)}"
        slips = _("{number} ({share} of it)").format(
            number=figures(f"{round(reading.slips_per_period, 1):g}"), share=percent(reading.slip_fraction)
        )
    return [
        (_("Pitch"), pitch),
        (_("Slips a period"), slips),
        (_("Settled"), _settled(bowed.start.settling_s)),
        (_("Force on the bridge, least to greatest"), with_unit(reading.bridge_force_peak_to_peak_n, "N", 2)),
        (_("Brightness (middle of the spectrum)"), with_unit(reading.centroid_hz or None, "Hz")),
    ]


def _settled(settling_s: float | None) -> str:
    from colophony.app.look.figures import UNKNOWN, with_unit

    if settling_s is None:
        return UNKNOWN
    if settling_s < 0.0005:
        return _("at once")
    return _("after {time}").format(time=with_unit(1000.0 * settling_s, "ms"))


def _likeliest_string(request: Request) -> str:
    if request.note is None:
        return "A"  # all four instruments have one
    playing = strings_that_play(
        request.instrument, request.size, note_to_hz(request.note, request.a4_hz), a4_hz=request.a4_hz
    )
    if not playing:
        line = _("no string of a {instrument} plays {note}: choose another note")
        raise InputError(line.format(instrument=_(request.instrument), note=request.note))
    return playing[0].name


def _check_note(string: BowedString, note: str) -> None:
    highest = highest_note(string)
    if not note_to_midi(string.note) <= note_to_midi(note) <= note_to_midi(highest):
        raise InputError(
            _(
                "{note} is out of reach on the {string} string: choose {lowest} to {highest}, or another "
                "string"
            ).format(note=note, string=string.name, lowest=string.note, highest=highest)
        )


def _frequency_hz(request: Request, string: BowedString) -> float:
    if request.note is None:
        return string.open_frequency_hz
    return note_to_hz(request.note, request.a4_hz)


def _model(request: Request) -> Model:
    from colophony.physics.simulation import Model

    without = request.without
    return Model(
        friction=LAWS[request.friction](),
        torsion="torsion" not in without,
        stiffness="stiffness" not in without,
        compliant_hair="hair" not in without,
        body="body" not in without,
    )


def _figure(value: float | None, digits: int) -> float | int | None:
    """Return a rounded plain number; what is not finite is not known."""
    if value is None or not math.isfinite(value):
        return None
    rounded = round(float(value), digits) + 0.0  # never -0.0
    return int(rounded) if digits == 0 else rounded
