"""The string's step and the loops that take it: one body per formula, one loop per way of running.

`string` has the bodies, `loops` plays runs one by one or side by side in lanes on the CPU, `cuda` one run a
thread. Memory and what lies where: `state`. Nothing here knows an instrument; `physics.simulation` does.
"""
