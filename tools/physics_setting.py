"""What the tables and pictures of ``docs/physics.md`` are about: strings, bridges and places of the bow."""

from __future__ import annotations

from dataclasses import replace

import published as p

from colophony.physics.simulation import Model

G = p.VIOLIN.string("G")
#: Bridge at rest with the catalogue's stiffness, without it, and on a violin's body.
STIFF, FLEXIBLE, BODY = p.STIFF_BRIDGE, replace(p.STIFF_BRIDGE, stiffness=False), Model()
PLACES = {"1/11": 1 / 11, "1/8": 1 / 8}
