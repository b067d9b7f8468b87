"""``colophony studio``: the students, instruments and takes that are kept on this machine."""

from __future__ import annotations

import click


@click.group(short_help="Students, takes and pages on this machine.")
def studio() -> None:
    """Keep students, instruments and takes on this machine; serve the pages."""
