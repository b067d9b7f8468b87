"""Frozen dataclasses as plain JSON values and back, so that they can be kept and sent."""

from __future__ import annotations

import enum
import types
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

from colophony.errors import InputError
from colophony.language import _

_T = TypeVar("_T")


def to_plain(value: Any) -> Any:
    """Return a value as what JSON knows: objects, lists, words, numbers, true, false and null.

    Raises `TypeError` for what is none of these, nor a dataclass, an enumeration or a number of numpy's.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, Mapping):
        return {str(name): to_plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [to_plain(one) for one in value]
    if isinstance(value, np.generic):
        return value.item()
    if value is None or isinstance(value, str | int | float):
        return value
    raise TypeError(f"JSON cannot hold a {type(value).__name__}")


def from_plain(kind: type[_T], value: Any) -> _T:
    """Return the dataclass of a kind that `to_plain` had turned into plain values.

    Unknown names are passed over (a later version may have written them), absent ones take their default.
    Raises `InputError` naming the place where something is missing or of the wrong kind.
    """
    made: _T = _read(kind, value, kind.__name__)
    return made


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(hint: Any, value: Any, place: str) -> Any:
    if isinstance(hint, type) and is_dataclass(hint):
        return _object(hint, value, place)
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Literal:
        return value if value in inner else _refuse(value, place)
    if origin in (Union, types.UnionType):
        return _either(inner, value, place)
    if origin is tuple:
        return _tuple(inner, value, place)
    if hint is Any:
        return value
    if origin is not None:  # a mapping of names to figures and words
        if not isinstance(value, Mapping):
            _refuse(value, place)
        return {str(name): _read(inner[1], one, f"{place}.{name}") for name, one in value.items()}
    if hint is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if not isinstance(value, hint) or (isinstance(value, bool) and hint is not bool):
        _refuse(value, place)
    return value


def _object(kind: type, value: Any, place: str) -> Any:
    if not isinstance(value, Mapping):
        _refuse(value, place)
    hints, given = _hints(kind), {}
    for field in fields(kind):
        if field.name in value:
            given[field.name] = _read(hints[field.name], value[field.name], f"{place}.{field.name}")
        elif field.default is MISSING and field.default_factory is MISSING:
            raise InputError(_("{place} lacks {name}").format(place=place, name=field.name))
    return kind(**given)


def _either(hints: tuple[Any, ...], value: Any, place: str) -> Any:
    if value is None and type(None) in hints:
        return None
    tried: InputError | None = None
    for hint in hints:
        if hint is not type(None):
            try:
                return _read(hint, value, place)
            except InputError as error:
                tried = error
    raise tried or InputError(place)


def _tuple(inner: tuple[Any, ...], value: Any, place: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        _refuse(value, place)
    hints = [inner[0]] * len(value) if len(inner) == 2 and inner[1] is Ellipsis else list(inner)
    if len(hints) != len(value):
        _refuse(value, place)
    return tuple(
        _read(hint, one, f"{place}[{i}]") for i, (hint, one) in enumerate(zip(hints, value, strict=True))
    )


def _refuse(value: Any, place: str) -> Any:
    raise InputError(_("{place} cannot be {value!r}").format(place=place, value=value))
