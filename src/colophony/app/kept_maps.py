"""Maps that were computed once, kept by their content in a folder that anyone may delete.

The key of a map is the SHA-256 of all that it depends on: every number of string, ribbon, body and model, the
grid, and the source of the engine itself, so that another engine never answers with an old map. A file that
is damaged or cannot be written is as good as none.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import io
import json
import os
import tempfile
import zipfile
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

import colophony

#: All kept maps together take no more than this; the longest unused go first.
MOST_BYTES = 64 * 1024 * 1024
#: Changes with the shape of what is kept.
_FORMAT = 1
_ENDING = ".map"
_NOTHING = (OSError, ValueError, KeyError, TypeError, AttributeError, zipfile.BadZipFile, EOFError)


class KeptMaps:
    """A folder of computed maps."""

    def __init__(self, folder: Path, *, most_bytes: int = MOST_BYTES) -> None:
        """Name the folder; it is made when the first map is kept."""
        self.folder, self._most_bytes = folder, most_bytes

    def key(self, kind: str, content: Mapping[str, Any]) -> str:
        """Return the name of what is computed from a content: plain values, dataclasses and arrays."""
        whole = {"kind": kind, "format": _FORMAT, "engine": engine_digest(), "content": _spelled(content)}
        return hashlib.sha256(json.dumps(whole, sort_keys=True).encode()).hexdigest()

    def find(self, key: str) -> Any:
        """Return what was kept under a key, None where there is nothing or it cannot be read."""
        path = self._path(key)
        try:
            value = _read(path.read_bytes())
        except _NOTHING:
            return None
        with contextlib.suppress(OSError):
            os.utime(path)  # used now: it goes last
        return value

    def keep(self, key: str, value: Any) -> bool:
        """Keep numbers, words, tuples, arrays and the maps' dataclasses; return whether they are kept.

        Another program sees the whole file or none.
        """
        data = _write(value)
        path = self._path(key)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, draft = tempfile.mkstemp(prefix=".", suffix=".draft", dir=self.folder)
            try:
                with os.fdopen(handle, "wb") as stream:
                    stream.write(data)
                os.replace(draft, path)
            except BaseException:
                Path(draft).unlink(missing_ok=True)
                raise
            self._sweep()
        except OSError:
            return False
        return True

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}{_ENDING}"

    def _sweep(self) -> None:
        """Let go of the longest unused files beyond the bound."""
        files = [(path, path.stat()) for path in self.folder.glob(f"*{_ENDING}")]
        total = sum(stat.st_size for _, stat in files)
        for path, stat in sorted(files, key=lambda file: file[1].st_mtime):
            if total <= self._most_bytes:
                break
            path.unlink(missing_ok=True)
            total -= stat.st_size


@lru_cache(maxsize=1)
def engine_digest() -> str:
    """Return the SHA-256 of the source of the package's physics and units: what a map is computed by."""
    root = Path(colophony.__file__).parent
    digest = hashlib.sha256()
    for path in sorted([*(root / "physics").rglob("*.py"), root / "units.py"]):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0")
        digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()


def _spelled(value: Any) -> Any:
    """Return a value as JSON that differs wherever the value does; floats to the last bit."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        named = {field.name: _spelled(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {"class": f"{type(value).__module__}.{type(value).__qualname__}", "fields": named}
    if isinstance(value, Mapping):
        return {str(name): _spelled(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_spelled(one) for one in value]
    if isinstance(value, np.ndarray):
        return {"array": hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest(), "of": value.shape}
    if isinstance(value, float):
        return value.hex()
    if value is None or isinstance(value, str | int):
        return value
    raise TypeError(f"a map's content cannot hold {type(value).__name__}")


def _write(value: Any) -> bytes:
    arrays: dict[str, np.ndarray[Any, Any]] = {}

    def pack(one: Any) -> Any:
        if dataclasses.is_dataclass(one) and not isinstance(one, type):
            return {
                "class": type(one).__name__,
                "fields": {f.name: pack(getattr(one, f.name)) for f in dataclasses.fields(one)},
            }
        if isinstance(one, tuple):
            return [pack(item) for item in one]
        if isinstance(one, np.ndarray):
            arrays[f"a{len(arrays)}"] = one
            return {"array": f"a{len(arrays) - 1}"}
        return one.item() if isinstance(one, np.generic) else one

    told = json.dumps(pack(value))
    out = io.BytesIO()
    np.savez_compressed(out, told=np.frombuffer(told.encode(), np.uint8), **arrays)  # type: ignore[arg-type]
    return out.getvalue()


def _read(data: bytes) -> Any:
    with np.load(io.BytesIO(data), allow_pickle=False) as held:
        return _unpacked(json.loads(held["told"].tobytes()), held)


def _unpacked(told: Any, held: Any) -> Any:
    if isinstance(told, list):
        return tuple(_unpacked(one, held) for one in told)
    if isinstance(told, dict) and "array" in told:
        return held[told["array"]]
    if isinstance(told, dict):
        from colophony.physics import maps  # slow to load, and plain numbers do without

        kind: Any = getattr(maps, told["class"])
        if not (isinstance(kind, type) and hasattr(kind, "__dataclass_fields__")):
            raise TypeError(f"{told['class']} is no part of a map")
        return kind(**{name: _unpacked(one, held) for name, one in told["fields"].items()})
    return told
