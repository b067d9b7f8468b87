"""Which state is a bowed string in, judged by its motion?

``helmholtz``
    one slip a period: the good tone
``s-motion``
    one slip a period, but shorter and faster than the ideal one, with too great a step at the bridge
``multiple-slip``
    several slips a period: too light or too fast
``raucous``
    slips without a rhythm: too heavy or too slow
``low-anomalous``
    regular, but with a period of one and a half periods of the string or more
``noise``
    no slip cycle: the string is held, is dragged, creeps, or the bow is off it
"""

from colophony.physics.regimes.reading import Reading, Span, read_bridge_force, read_motion, spans
from colophony.physics.regimes.rules import STATES, StartKind, State
from colophony.physics.regimes.start import Start, read_start

__all__ = [
    "STATES",
    "Reading",
    "Span",
    "Start",
    "StartKind",
    "State",
    "read_bridge_force",
    "read_motion",
    "read_start",
    "spans",
]
