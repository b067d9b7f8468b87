"""The names that other packages and programs may rely on, listed by hand."""

from __future__ import annotations

import importlib
from typing import get_origin

import pytest

PUBLIC = {
    "colophony.app.cli": {"main", "program"},
    "colophony.app.contract": {"findings_to_json"},
    "colophony.app.lesson": {"Request", "for_stroke", "hear", "listen_references", "with_direction"},
    "colophony.app.settings": {"SETTINGS", "Settings", "language_of_machine", "read_settings"},
    "colophony.errors": {"ClusterError", "ColophonyError", "InputError", "StudioError", "TakeError"},
    "colophony.listening.take": {
        *("Brightness", "Evidence", "Onset", "Span", "Steadiness", "Stroke", "Take", "ToneState", "Track"),
    },
    "colophony.physics.bowings": {"START_KINDS", "Answers", "Bowings", "Interrupted"},
    "colophony.physics.gestures": {
        *("Curve", "Stroke", "accelerate", "as_curve", "bow_change", "steady", "swell", "wander"),
    },
    "colophony.physics.instruments": {"Instrument", "find_instrument"},
    "colophony.physics.live": {"Voice"},
    "colophony.physics.maps": {
        *("Ask", "PLAYABLE", "PlayableRanges", "Progress", "RAMP_PERIODS", "STROKES_AT_ONCE"),
        *("SpeakingStroke", "StartMap", "SteadyMap", "WanderRoom", "Wedge", "accelerations_m_s2"),
        *("ask_wander_room", "closed_form_ranges", "contact_distances_m", "playable_ranges"),
        *("speaking_strokes", "start_map", "start_weights_n", "steady_map", "steady_maps"),
        *("wander_room", "wander_rooms", "weights_around_n", "weights_n"),
    },
    "colophony.physics.motion": {"Motion"},
    "colophony.physics.regimes": {
        *("STATES", "Reading", "Span", "Start", "StartKind", "State"),
        *("read_bridge_force", "read_motion", "read_start", "spans"),
    },
    "colophony.physics.simulation": {"Model", "simulate", "simulate_many"},
    "colophony.physics.survey": {"survey"},
    "colophony.teaching.findings": {"Advice", "Findings", "Say", "Summary", "in_every_language", "said"},
    "colophony.units": {
        *("ISO_16_A4_HZ", "hz_to_cents", "hz_to_midi", "hz_to_note"),
        *("midi_to_hz", "midi_to_note", "note_to_hz", "note_to_midi"),
    },
}


@pytest.mark.parametrize("module", sorted(PUBLIC))
def test_names_are_there_and_documented(module: str) -> None:
    """Every public name exists, and says what it is."""
    loaded = importlib.import_module(module)
    for name in PUBLIC[module]:
        value = getattr(loaded, name)
        if (
            callable(value) and get_origin(value) is None
        ):  # an alias such as Literal[...] has no text of its own
            assert value.__doc__, f"{module}.{name} has no docstring"


@pytest.mark.parametrize("module", sorted(PUBLIC))
def test_nothing_else_is_offered(module: str) -> None:
    """What a module defines beside its public names begins with an underscore, or ``__all__`` lists them."""
    loaded = importlib.import_module(module)
    offered = getattr(loaded, "__all__", None)
    if offered is not None:
        assert set(offered) == PUBLIC[module]
        return
    defined = {
        name
        for name, value in vars(loaded).items()
        if not name.startswith("_") and callable(value) and getattr(value, "__module__", "") == module
    }
    assert defined <= PUBLIC[module] | SMALL_PRINT.get(module, set())


#: Helpers that are public for their neighbours in the same package only.
SMALL_PRINT = {
    "colophony.app.settings": {"Setting"},
    "colophony.physics.gestures": {"out_of_range"},
    "colophony.physics.survey": {"Seat", "Setting", "Strokes", "write_answers"},
}
