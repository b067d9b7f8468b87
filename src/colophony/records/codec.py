"""Findings back from the plain values that the database holds, and a track as one block, without loss.

Any of the frozen dataclasses of `colophony.listening.take` and `colophony.teaching.findings` becomes
dicts, lists, strings, numbers and None, which is what JSON holds (`teaching.exercises.plain.to_plain`). The
way back follows the type hints of the dataclass, so that a field added there with a default needs no change
here.
"""

from __future__ import annotations

import enum
import io
import types
import typing
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, TypeVar, cast

import numpy as np

from colophony.errors import StudioError
from colophony.language import _
from colophony.listening.take import Track

T = TypeVar("T")


def from_plain(kind: type[T], plain: object) -> T:
    """Return the dataclass (or other type) that `to_plain` took apart.

    A field missing from ``plain`` takes its default. Raises `StudioError` when it has none or a
    value does not fit: then what was stored is damaged.
    """
    try:
        return cast(T, _build(kind, plain))
    except (TypeError, ValueError, KeyError, AttributeError) as error:
        raise StudioError(
            _("stored findings cannot be read ({part}): hear the recording again").format(part=kind.__name__)
        ) from error


def _build(kind: Any, plain: Any) -> Any:
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        if plain is None:
            return None
        choices = [choice for choice in typing.get_args(kind) if choice is not type(None)]
        return _build(choices[0], plain) if len(choices) == 1 else plain
    if origin is tuple:
        return tuple(_build(typing.get_args(kind)[0], item) for item in plain)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {key: _build(typing.get_args(kind)[1], item) for key, item in plain.items()}
    if isinstance(kind, type) and is_dataclass(kind):
        return _build_dataclass(kind, plain)
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return kind(plain)
    return plain


def _build_dataclass(kind: type, plain: Mapping[str, Any]) -> Any:
    values = {}
    for field in fields(kind):
        if field.name in plain:
            values[field.name] = _build(_hints(kind)[field.name], plain[field.name])
        elif field.default is MISSING and field.default_factory is MISSING:
            raise KeyError(field.name)
    return kind(**values)


@cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def pack_track(track: Track | None) -> bytes | None:
    """Return a track's arrays as one compressed block (numpy's npz), None without a track."""
    if track is None:
        return None
    block = io.BytesIO()
    np.savez_compressed(block, **{field.name: getattr(track, field.name) for field in fields(track)})
    return block.getvalue()


def unpack_track(block: bytes | None) -> Track | None:
    """Return the track that `pack_track` packed. Raises `StudioError` when the block is damaged."""
    if block is None:
        return None
    try:
        with np.load(io.BytesIO(block), allow_pickle=False) as arrays:
            return Track(**{field.name: arrays[field.name] for field in fields(Track)})
    except (ValueError, KeyError, OSError, EOFError, zipfile.BadZipFile, zlib.error) as error:
        raise StudioError(
            _("stored findings cannot be read ({part}): hear the recording again").format(part="track")
        ) from error
