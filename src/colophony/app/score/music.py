"""music21, kept on a short lead: loaded where needed, silent, and never writing in a home folder."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from colophony.errors import InputError
from colophony.language import _

#: The library keeps state of its own in the module: one reader at a time.
_ONE_AT_A_TIME = threading.Lock()


@contextmanager
def music21() -> Iterator[Any]:
    """Lend the library, with its warnings off for as long as the block lasts.

    Raises `InputError` where it is not installed.
    """
    with _ONE_AT_A_TIME, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            import music21 as library
        except ImportError as error:
            raise InputError(
                _("reading scores needs {package}: run pip install '.[score]' in Colophony's folder").format(
                    package="music21"
                )
            ) from error
        # In this process only: the library's own file of settings is neither read again nor written.
        library.environment.Environment()["warnings"] = 0  # type: ignore[no-untyped-call]
        yield library
