"""One measurement in a process of its own: ``python -m bench.child WHAT [FILE]``; prints one JSON object.

A fresh process has loaded nothing yet, and its peak memory is that of the one thing it did.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable


def seconds(work: Callable[[], object], *, times: int = 1) -> float:
    """Median wall time of ``times`` runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def peak_mb() -> float | None:
    """Most memory this process has held, or ``None`` where the system does not say."""
    try:
        import resource
    except ImportError:  # Windows
        return None
    unit = 1 if sys.platform == "darwin" else 1024  # bytes there, kilobytes elsewhere
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def hear(file: str) -> dict[str, object]:
    """Peak memory and wall time of one hearing, loading included."""
    start = time.perf_counter()
    from colophony.listening.listen import listen

    take = listen(file)
    return {"seconds": time.perf_counter() - start, "peak_mb": peak_mb(), "strokes": len(take.strokes)}


def compare(file: str) -> dict[str, object]:
    """Our hearing of a file beside pYIN on the same file, both after one run to warm up, in turns."""
    import librosa

    from colophony.listening.listen import listen

    sound, rate_hz = librosa.load(file, sr=22_050, mono=True)

    def pyin(samples: int | None = None) -> object:
        return librosa.pyin(sound[:samples], fmin=60, fmax=3000, sr=rate_hz)

    first_s = seconds(lambda: listen(file))
    pyin(2 * 22_050)
    before = seconds(lambda: listen(file), times=3)
    start = time.process_time()
    listen(file)
    processor_s = time.process_time() - start
    pyin_s = seconds(pyin)
    after = seconds(lambda: listen(file), times=3)
    return {
        "first_s": first_s,
        "listen_s": statistics.median([before, after]),
        "processor_s": processor_s,
        "pyin_s": pyin_s,
    }


def decode(file: str) -> dict[str, object]:
    """Decoding and resampling alone."""
    from colophony.listening.decode import Recording

    def run() -> None:
        with Recording(file) as recording:
            for _ in recording.blocks(rate_hz=22_050):
                pass

    run()
    return {"seconds": seconds(run, times=3)}


def stages(file: str) -> dict[str, object]:
    """Share of the time of each function that `listen` calls, by the profiler (which slows all a little).

    Generators count as one with what feeds them: the cutting into passages holds the decoding.
    """
    import cProfile
    import pstats

    from colophony.listening.listen import listen

    listen(file)
    profile = cProfile.Profile()
    profile.runcall(listen, file)
    table = pstats.Stats(profile).stats  # type: ignore[attr-defined]
    whole = next(row[3] for (_, _, name), row in table.items() if name == "listen")
    found: dict[str, float] = {}
    for (path, _, name), row in table.items():
        for (caller_path, _, caller), call in row[4].items():
            if caller_path.endswith("listen.py") and caller in ("listen", "_hear") and "colophony" in path:
                found[name] = found.get(name, 0.0) + call[3] / whole
    return {k: v for k, v in sorted(found.items(), key=lambda item: -item[1]) if v >= 0.01}


def bow() -> dict[str, object]:
    """The bowed string's step and its parts."""
    from bench.bowing import measure

    return dict(measure())


def survey() -> dict[str, object]:
    """Maps, and a step of them beside a plain bowed voice."""
    from bench.surveys import measure

    return dict(measure())


def teaching() -> dict[str, object]:
    """A week, a piece and a talk (`bench.teaching`)."""
    from bench.teaching import measure

    return dict(measure())


def cluster() -> dict[str, object]:
    """A map shared by workers."""
    from bench.cluster import measure

    return dict(measure())


if __name__ == "__main__":
    work: dict[str, Callable[..., dict[str, object]]] = {
        "hear": hear,
        "compare": compare,
        "decode": decode,
        "stages": stages,
        "bow": bow,
        "survey": survey,
        "cluster": cluster,
        "teaching": teaching,
    }
    json.dump(work[sys.argv[1]](*sys.argv[2:]), sys.stdout)
