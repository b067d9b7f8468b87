"""What a second worker brings: a family of maps on a cluster of one worker and of two, in turns.

Workers are processes of this machine with one thread each; scheduler and asker take their share of its cores
too. The one that is not asked sleeps.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace

import numpy as np
from distributed import LocalCluster

from bench.surveys import SPEED_M_S, grid
from colophony.app.cluster import cluster_ask
from colophony.physics.instruments import find_instrument

_ROUNDS = 4
#: Times the speed of one map: work for some seconds, as one shares it.
_SPEEDS = (0.5, 0.75, 1.0, 1.5, 2.0)


def measure() -> dict[str, float]:
    """Return seconds of five maps by the number of workers, the best of some rounds."""
    violin = find_instrument("violin")
    string = violin.string("D")
    one = grid(string, 40, 50)
    bowings = replace(
        one,
        **{name: np.tile(getattr(one, name), len(_SPEEDS)) for name in ("weight_n", "distance_m")},
        speed_m_s=np.repeat(SPEED_M_S * np.array(_SPEEDS), len(np.asarray(one.weight_n))),
    )

    def timed(workers: int, kept: ExitStack) -> Callable[[float], float]:
        cluster = kept.enter_context(
            LocalCluster(n_workers=workers, threads_per_worker=1, protocol="tcp", dashboard_address=":0")
        )
        cluster.wait_for_workers(workers)
        ask = kept.enter_context(
            cluster_ask(cluster.scheduler_address, instrument=violin, string=string, wait_s=60.0)
        )

        def turn(heavier: float) -> float:
            asked = replace(bowings, weight_n=np.asarray(bowings.weight_n) * heavier)  # never the same twice
            start = time.perf_counter()
            ask(asked)
            return time.perf_counter() - start

        return turn

    with ExitStack() as kept:
        turns = {"one worker": timed(1, kept), "two workers": timed(2, kept)}
        best = {name: turn(1.0) for name, turn in turns.items()}  # the first loads the engine
        for heavier in 1.0 + 1e-6 * np.arange(1, _ROUNDS + 1):
            best = {name: min(best[name], turn(float(heavier))) for name, turn in turns.items()}
    return best
