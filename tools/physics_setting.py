"""What the tables and pictures of ``docs/physics.md`` are about: strings, bridges and places of the bow."""

from __future__ import annotations

import published as p

from colophony.physics.simulation import Model

G = p.VIOLIN.string("G")
#: Bridge at rest with the catalogue's stiffness, without it, and on a violin's body.
STIFF, FLEXIBLE, BODY = p.STIFF_BRIDGE, p.FLEXIBLE, Model()
PLACES = p.PLACES
