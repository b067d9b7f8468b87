"""Every error that Colophony raises on purpose.

::

    ColophonyError
    ├── InputError        what was handed in is at fault (exit status 1)
    │   └── TakeError     a recording that cannot be read or holds nothing to hear
    ├── StudioError       the studio's memory (database, files, consent) refuses
    └── ClusterError      machines that share the work are out of reach, gone or of another version

A message is one line: the value, the limit it breaks and what to do about it.
"""


class ColophonyError(Exception):
    """Root of every error raised on purpose; its text is one line for a person."""


class InputError(ColophonyError):
    """The input is at fault: a value out of range, a file of the wrong kind."""


class TakeError(InputError):
    """A recording that cannot be read, or that holds nothing to hear."""


class StudioError(ColophonyError):
    """The studio's memory refuses: unknown student, missing consent, damaged file."""


class ClusterError(ColophonyError):
    """Machines that share the work fail: out of reach, gone, with another version."""
