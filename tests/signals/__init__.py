"""Signals whose truth is known, for tests of listening: strings, strokes, a simulated bow, rooms, phones.

All are made from numbers by published formulas, are the same on every run, and none is a recording.
``strings`` and ``strokes`` draw motions that are what their name says; ``stickslip`` computes the motion and
counts the slips at the bow; ``bodies`` and ``phone`` do to a sound what a lesson's recording does to it.
"""

from .bodies import add_noise, body, clip, microphone, normalise, recorded, room
from .strings import (
    IMPEDANCE,
    flageolet,
    hair_noise,
    helmholtz,
    low_anomalous,
    multiple_slip,
    plucked,
    ponticello,
    raucous,
)
from .strokes import (
    Parts,
    bow_changes,
    clean_start,
    creaking_start,
    double_stop,
    fade,
    join,
    scale,
    short_strokes,
    silence,
    slipping_start,
    tremolo,
)

__all__ = [
    "IMPEDANCE",
    "Parts",
    "add_noise",
    "body",
    "bow_changes",
    "clean_start",
    "clip",
    "creaking_start",
    "double_stop",
    "fade",
    "flageolet",
    "hair_noise",
    "helmholtz",
    "join",
    "low_anomalous",
    "microphone",
    "multiple_slip",
    "normalise",
    "plucked",
    "ponticello",
    "raucous",
    "recorded",
    "room",
    "scale",
    "short_strokes",
    "silence",
    "slipping_start",
    "tremolo",
]
