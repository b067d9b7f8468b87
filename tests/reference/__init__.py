"""A second bowed string, for checking the first: modes instead of travelling waves, small exact steps.

It shares no code and no method with `colophony.physics`; `twin`, which sets up a pair of runs, reads off
the engine where its hairs lie, what each bears, and what its filters amount to. The string, its torsion, the
hairs and the body are one linear system taken apart into its complex modes, each stepped exactly (`linear`);
friction is solved together with it at every step until nothing is left over (`bowing`). Slow, and meant to
be right: ``tests/physics/test_reference_string.py`` holds it against closed forms.
"""

from .bowing import Hyperbolic, Run, ThermalElastoPlastic, bow
from .linear import BodyMode, Hair, LinearSystem, StringData, Torsion, assemble

__all__ = [
    "BodyMode",
    "Hair",
    "Hyperbolic",
    "LinearSystem",
    "Run",
    "StringData",
    "ThermalElastoPlastic",
    "Torsion",
    "assemble",
    "bow",
]
