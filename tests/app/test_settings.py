"""Settings come from one table, read once."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import get_args

import pytest

from colophony.app.cli.options import SIZES
from colophony.app.settings import (
    A4_LIMITS_HZ,
    AGE_GROUPS,
    INSTRUMENTS,
    READERS,
    SETTINGS,
    Settings,
    read_settings,
)
from colophony.errors import InputError
from colophony.listening import tuning
from colophony.listening.take import Instrument
from colophony.records import domain
from colophony.teaching import plans
from colophony.teaching.findings import Reader


def test_every_row_has_its_field_and_help() -> None:
    """The table and the values it gives name the same settings."""
    assert [setting.name for setting in SETTINGS] == [field.name for field in fields(Settings)]
    assert all(setting.help.endswith(".") for setting in SETTINGS)


def test_defaults_stand_where_the_environment_is_silent() -> None:
    """The pages answer on this machine alone unless someone says otherwise (RFC 1122, 3.2.1.3: loopback)."""
    settings = read_settings({"COLOPHONY_READER": ""})
    assert (settings.host, settings.reader, settings.instrument) == ("127.0.0.1", "teacher", None)
    assert settings.studio == Path.home() / "Colophony"


@pytest.mark.parametrize(
    ("variable", "value"),
    [
        ("COLOPHONY_INSTRUMENT", "guitar"),
        ("COLOPHONY_READER", "robot"),
        ("COLOPHONY_PORT", "-1"),
        ("COLOPHONY_PORT", "65536"),
        ("COLOPHONY_PORT", "٣"),
        ("COLOPHONY_HOST", " "),
    ],
)
def test_a_bad_value_is_named_with_its_limit(variable: str, value: str) -> None:
    """One line: variable, value, limit. Ports have 16 bits (RFC 9293, section 3.1)."""
    with pytest.raises(InputError, match=variable) as caught:
        read_settings({variable: value})
    assert "must be" in str(caught.value)


def test_values_are_read() -> None:
    """``~`` is the home folder."""
    settings = read_settings({"COLOPHONY_STUDIO": "~/lessons", "COLOPHONY_PORT": "9000"})
    assert (settings.studio, settings.port) == (Path.home() / "lessons", 9000)


def test_choices_are_those_of_the_layers_that_use_them() -> None:
    """Options repeat them only because help must not load the layers; here they are held together."""
    assert get_args(Instrument) == INSTRUMENTS
    assert plans.AGE_GROUPS == get_args(plans.AgeGroup) == AGE_GROUPS
    assert get_args(Reader) == READERS
    assert domain.SIZES == SIZES
    assert (tuning.LOWEST_A4_HZ, tuning.HIGHEST_A4_HZ) == A4_LIMITS_HZ
