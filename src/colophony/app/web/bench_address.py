"""The addresses of the String bench: a stroke, and one kept beside it."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from colophony.app.bench import Setting

#: Before the names of a second stroke's fields in an address.
KEPT = "kept_"


def read_pair(fields: Mapping[str, str]) -> tuple[Setting, Setting | None]:
    """Return the stroke of an address and the one kept beside it, if any. Raises `InputError`."""
    kept = any(name.startswith(KEPT) for name in fields)
    return Setting.read(fields), Setting.read(fields, prefix=KEPT) if kept else None


def link_of(setting: Setting, kept: Setting | None = None) -> str:
    """Return the address that reopens a stroke and the one kept beside it."""
    fields = setting.query() | (kept.query(prefix=KEPT) if kept else {})
    return f"/bench?{urlencode(fields)}"
