"""What one recording told: the take, its strokes, and the state of the string over time.

Plain values without behaviour. Everything that this take cannot tell is ``None``, never a guess.
Times are seconds from the start of the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray


class ToneState(StrEnum):
    """What the string did. The values are the words that commands and files use."""

    HELMHOLTZ = "helmholtz"  #: one slip a period
    MULTIPLE_SLIP = "multiple-slip"  #: several slips a period: surface sound
    RAUCOUS = "raucous"  #: aperiodic: pressed
    LOW_ANOMALOUS = "low-anomalous"  #: period longer than the note's
    NOISE = "noise"  #: hair noise, no tone
    PLUCKED = "plucked"
    STEADY = "steady"  #: periodic; this take alone cannot tell one slip from several
    UNSURE = "unsure"


#: States of a clean tone: one slip a period, or one that this take alone cannot tell from it.
CLEAN = (ToneState.HELMHOLTZ, ToneState.STEADY)

Direction = Literal["down", "up"]
Instrument = Literal["violin", "viola", "cello"]

#: Instruments whose takes are heard. The strings of more are known to `colophony.physics.strings`.
INSTRUMENTS: tuple[Instrument, ...] = ("violin", "viola", "cello")


@dataclass(frozen=True, slots=True)
class Evidence:
    """One observation that spoke for a verdict.

    ``kind`` names it (see `colophony.teaching.wording`, which turns it into a sentence);
    ``values`` holds its measured figures, unit in the name.
    """

    kind: str
    values: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a stroke with one tone state. ``confidence`` is from 0 to 1."""

    start_s: float
    end_s: float
    state: ToneState
    confidence: float


@dataclass(frozen=True, slots=True)
class Onset:
    """How the stroke began.

    ``settling_ms`` and ``uncertainty_ms`` bracket the time from first sound to settled motion;
    ``within_limit`` compares it with Guettler and Askenfelt (1997): 10 periods creaking, 18 slipping.
    """

    grade: Literal["clean", "slow", "very-slow"] | None
    settling_ms: float | None
    uncertainty_ms: float | None
    kind: Literal["clean", "creaking", "slipping", "unknown"]
    within_limit: bool | None


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How steady level and pitch were over the settled part; vibrato is kept apart from drift."""

    level_swing_db: float | None
    pitch_swing_cents: float | None
    vibrato_hz: float | None
    vibrato_cents: float | None  #: extent to either side of the centre


@dataclass(frozen=True, slots=True)
class Brightness:
    """Where the sound's energy lies, and the difference to the player's own reference take."""

    centroid_hz: float | None
    centroid_in_harmonics: float | None
    against_reference_db: float | None  #: above 0: brighter than the reference


@dataclass(frozen=True, slots=True)
class Stroke:
    """One movement of the bow in one direction on one note, or one plucked note.

    ``way`` groups strokes by bow direction before one is known: strokes of equal ``way`` went the
    same way. ``bow`` names the direction once one stroke's is given. ``reversal`` is true when the
    bow turned at this stroke's start. ``cents`` is against equal temperament at the take's A4.
    ``harmonics_db`` holds the mean level of harmonics 1 to 20 relative to their sum, for comparison
    with a reference take (empty when unknown). ``level_db`` is the level of that sum below full scale: it
    compares with another take only where microphone and gain stayed as they were.
    """

    start_s: float
    end_s: float
    note: str | None
    frequency_hz: float | None
    cents: float | None
    state: ToneState
    confidence: float
    spans: tuple[Span, ...]
    bow: Direction | None
    way: Literal["one", "other"] | None
    reversal: bool
    onset: Onset
    steadiness: Steadiness
    brightness: Brightness
    harmonicity_db: float | None
    evidence: tuple[Evidence, ...] = ()
    harmonics_db: tuple[float, ...] = ()
    level_db: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """Level and pitch over time, for drawing: one row every 10 ms (``times_s``, equal lengths)."""

    times_s: NDArray[np.float32]
    frequency_hz: NDArray[np.float32]  #: 0 where no pitch was heard
    level_db: NDArray[np.float32]  #: relative to full scale
    peak: NDArray[np.float32]  #: largest absolute sample in the row, 0 to 1


@dataclass(frozen=True, slots=True)
class Take:
    """One recording, heard. ``warnings`` are `Evidence` too: worded where a person reads them."""

    file: str
    duration_s: float
    a4_hz: float
    instrument: Instrument | None
    strokes: tuple[Stroke, ...]
    warnings: tuple[Evidence, ...] = ()
    track: Track | None = None
