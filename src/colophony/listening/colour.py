"""Colour of the tone, and comparison with the player's own accepted tone.

Colour alone never decides a tone state: body and room colour more than the bow does. Against the same
player's reference take on the same note, body and room drop out and a difference becomes sayable.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colophony.listening.take import CLEAN, Brightness, Evidence, Stroke, ToneState
from colophony.listening.warp import Periods
from colophony.units import hz_to_cents

_KEPT_HARMONICS = 20
_LOW_HARMONICS = 4
_SAME_NOTE_CENTS = 60.0
_LEAST_SPREAD_DB = 1.5
_SAYABLE_DB = 4.0
_ALIKE_HARMONICS = 8
_ALIKE_DB = 1.9  # two slips a period, where the second wanders, differed by 2.3 dB at least
_FAINTEST_DB = -45.0
_LOST_FIRST_DB = 10.0
_RISEN_CENTROID = 2**0.8


def colour(
    periods: Periods, *, from_s: float, to_s: float
) -> tuple[Brightness, tuple[float, ...], float | None]:
    """Return brightness (magnitude-weighted centroid), harmonics 1 to 20 in dB against their sum, the sum.

    The sum is a mean square in dB below full scale, None where nothing sounds: noise between the harmonics
    is left out.
    """
    inside = (periods.times_s >= from_s) & (periods.times_s <= to_s)
    used = periods.harmonics[inside if inside.any() else slice(None)]
    power = (np.abs(used) ** 2).mean(axis=0).astype(np.float64)
    size = np.sqrt(power)
    order = np.arange(1, len(power) + 1)
    centroid = float((size @ order) / max(float(size.sum()), 1e-20))
    kept = power[:_KEPT_HARMONICS]
    whole = float(kept.sum())
    levels = 10 * np.log10(np.maximum(kept, 1e-12) / max(whole, 1e-12))
    return (
        Brightness(round(centroid * periods.centre_hz, 1), round(centroid, 2), None),
        tuple(round(float(level), 1) for level in levels),
        round(10 * math.log10(whole / 2), 1) if whole > 1e-12 else None,
    )


@dataclass(frozen=True, slots=True)
class Reference:
    """Strokes of a player that the teacher accepts, to hear later strokes against, note by note.

    ``places`` holds strokes that were played at known places, each place apart: a later stroke is heard
    against the one it is most like.
    """

    strokes: tuple[Stroke, ...]
    places: tuple[tuple[Stroke, ...], ...] = ()

    def of(self, frequency_hz: float) -> list[list[NDArray[np.float64]]]:
        """Return the harmonics' levels of the reference strokes on this note, place by place."""
        groups = [
            [
                np.asarray(stroke.harmonics_db)
                for stroke in group
                if stroke.frequency_hz
                and abs(hz_to_cents(frequency_hz, stroke.frequency_hz)) < _SAME_NOTE_CENTS
            ]
            for group in (self.strokes, *self.places)
        ]
        return [group for group in groups if group]


def make_reference(strokes: Iterable[Stroke], *, places: Iterable[Iterable[Stroke]] = ()) -> Reference:
    """Keep the strokes that can serve: bowed, with a pitch, steady for most of their length."""
    return Reference(_usable(strokes), tuple(_usable(place) for place in places))


def _usable(strokes: Iterable[Stroke]) -> tuple[Stroke, ...]:
    return tuple(
        s for s in strokes if s.frequency_hz and s.harmonics_db and s.state in CLEAN and s.confidence >= 0.5
    )


def against_reference(stroke: Stroke, reference: Reference) -> Stroke:
    """Return the stroke with the difference to the reference, and with what that difference tells."""
    if stroke.frequency_hz is None or not stroke.harmonics_db or stroke.state is ToneState.PLUCKED:
        return stroke
    groups = reference.of(stroke.frequency_hz)
    if not groups:
        return stroke
    count = min([len(stroke.harmonics_db), *(len(known) for group in groups for known in group)])
    if count < _LOW_HARMONICS + 2:
        return stroke
    here = np.asarray(stroke.harmonics_db[:count])
    means = [np.array([known[:count] for known in group]) for group in groups]
    levels = min(means, key=lambda of: _unlikeness_db(here, of.mean(axis=0)))
    tilts = [_tilt(row) for row in levels]
    spread = max(_LEAST_SPREAD_DB, float(np.std(tilts)))
    difference = _tilt(here) - float(np.mean(tilts))
    evidence = list(stroke.evidence)
    sayable = abs(difference) > max(_SAYABLE_DB, 2.5 * spread)
    if sayable:
        evidence.append(Evidence("against_reference", {"db": round(difference, 1)}))
    state: ToneState = stroke.state
    confidence, spans = stroke.confidence, stroke.spans
    if state is ToneState.STEADY:
        told = _told_state(here, levels.mean(axis=0))
        if told is not None:
            state, confidence = told, min(confidence, 0.75)
            evidence.append(Evidence("like_reference" if told is ToneState.HELMHOLTZ else "unlike_reference"))
            spans = tuple(
                replace(s, state=told, confidence=min(s.confidence, 0.75))
                if s.state is ToneState.STEADY
                else s
                for s in spans
            )
    return replace(
        stroke,
        state=state,
        confidence=confidence,
        spans=spans,
        brightness=replace(stroke.brightness, against_reference_db=round(difference, 1)),
        evidence=tuple(evidence),
    )


def _tilt(levels_db: NDArray[np.float64]) -> float:
    """Return the level of the harmonics above the fourth against the lowest four, dB."""
    power = 10 ** (levels_db / 10)
    return float(10 * np.log10(power[_LOW_HARMONICS:].sum() / power[:_LOW_HARMONICS].sum()))


def _unlikeness_db(here: NDArray[np.float64], there: NDArray[np.float64]) -> float:
    """Return how far the lowest harmonics differ (rms): these a change of colour moves least."""
    return float(np.sqrt(np.mean((here - there)[:_ALIKE_HARMONICS] ** 2)))


def _told_state(here: NDArray[np.float64], reference: NDArray[np.float64]) -> ToneState | None:
    """Say one slip or several where the spectra agree or differ beyond what bowing place and speed do.

    Two slips a period take away the odd harmonics, three those that are no multiple of three: against the
    player's own accepted tone the lowest harmonics tell.
    """
    counted = np.maximum(here, reference) > _FAINTEST_DB
    low = counted & (np.arange(len(here)) < _ALIKE_HARMONICS)
    change = here - reference
    if (
        low.sum() >= 3
        and float(np.abs(change[low]).max()) < 2 * _ALIKE_DB
        and float(np.sqrt((change[low] ** 2).mean())) < _ALIKE_DB
    ):
        return ToneState.HELMHOLTZ
    order = np.arange(1, len(here) + 1)
    centre = [float((10 ** (x / 20) @ order) / (10 ** (x / 20)).sum()) for x in (here, reference)]
    if change[0] < -_LOST_FIRST_DB and centre[0] > _RISEN_CENTROID * centre[1]:
        return ToneState.MULTIPLE_SLIP
    return None
