"""Measures speed and memory and prints each figure beside its target.

Times depend on the machine and on what else it does (the load is printed); ratios taken in the same
process on the same minute, and the processor time, depend on that far less.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from bench import material
from bench.child import seconds

ROOT = Path(__file__).resolve().parent.parent
RESULTS = Path(__file__).resolve().parent / "results.json"
_TWO_HOURS = 120


@dataclass(frozen=True)
class Row:
    """One figure. ``target`` is its upper limit in the same unit; its lower limit where ``at_least``."""

    what: str
    value: float | None
    unit: str
    target: float | None = None
    at_least: bool = False

    def verdict(self) -> str:
        """Met or not, in a word; empty without a target."""
        if self.target is None or self.value is None:
            return ""
        met = self.value >= self.target if self.at_least else self.value <= self.target
        return "met" if met else "missed"


def child(what: str, *files: Path) -> dict[str, Any]:
    """Runs one measurement of `bench.child` in a fresh process."""
    done = subprocess.run(
        [sys.executable, "-m", "bench.child", what, *map(str, files)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise SystemExit(f"measuring {what} failed:\n{done.stderr}")
    result: dict[str, Any] = json.loads(done.stdout)
    return result


def measure_listening(folder: Path, *, two_hours: bool) -> list[Row]:
    """Hearing, decoding and starting, in order; says on standard error what it is doing."""
    say("a minute of bowed notes")
    sound = material.minute()
    minute = material.write_wav(folder / "minute.wav", sound)
    say("listening beside pYIN")
    pair = child("compare", minute)
    rows = [
        Row("one minute heard, after start", pair["listen_s"], "s", 1.5),
        Row("the same, processor time", pair["processor_s"], "s"),
        Row("one minute heard, first in a process", pair["first_s"], "s"),
        Row("the same minute by pYIN (librosa)", pair["pyin_s"], "s"),
        Row("times faster than pYIN", pair["pyin_s"] / pair["listen_s"], ""),
    ]
    say("memory of one minute")
    one = child("hear", minute)
    rows += [
        Row("peak memory, one minute", one["peak_mb"], "MB", 500),
        Row("one minute, loading included", one["seconds"], "s"),
    ]
    say("the help of the command")
    command = [str(Path(sys.executable).with_name("colophony")), "--help"]
    rows.append(Row("colophony --help", seconds(lambda: run_quietly(command), times=7), "s", 0.4))
    for ending, coding in material.FORMATS.items():
        say(f"decoding {ending}")
        coded = material.write_coded(folder / f"coded.{ending}", sound, coding)
        rows.append(Row(f"decoding alone, one minute of {ending}", child("decode", coded)["seconds"], "s"))
    say("the stages of listening")
    for name, share in child("stages", minute).items():
        rows.append(Row(f"share of {name}", 100 * share, "%"))
    if two_hours:
        say("two hours (a few minutes)")
        long = child("hear", material.write_wav(folder / "two-hours.wav", sound, times=_TWO_HOURS))
        rows += [
            Row("peak memory, two hours", long["peak_mb"], "MB", 500),
            Row("two hours heard, a minute of sound", long["seconds"] / _TWO_HOURS, "s", 1.5),
        ]
    return rows


def measure_string() -> list[Row]:
    """The bowed string: open G of a violin, with four hairs, torsion, soft hair, stiffness and body."""
    say("the bowed string and its parts")
    ns = child("bow")
    full = ns["full"]
    rows = [
        Row("steps a second, one run", 1e3 / full, "M/s"),
        Row("one step, one run", full, "ns"),
        Row("one run, times real time", 1.0 / ns["stroke_s"], "", 50, at_least=True),
        Row("the same, stepping alone", 1e9 / full / ns["steps_a_second_of_string"], ""),
        Row("one step in single precision", ns["full single"], "ns"),
        Row("a step and lane, single precision", ns["lanes single"], "ns", 15),
        Row("a step and lane, single, stiff bridge", ns["lanes single no body"], "ns", 15),
        Row("a step and lane, double precision", ns["lanes double"], "ns"),
        Row("lanes over one run, single precision", ns["full single"] / ns["lanes single"], ""),
        Row("times faster than the plain Python body", ns["python"] / full, ""),
    ]
    if ns["missing"]:
        say(f"SKIPPED: {ns['missing']}")
    rows += [
        Row(f"time over that of C, {precision}", _over(ns[name], ns.get(f"C {precision}")), "")
        for precision, name in (("double", "full"), ("single", "full single"))
    ]
    rows += [Row(f"one step with {name}", ns[name], "ns") for name in ns["variants"]]
    return rows


def measure_maps() -> list[Row]:
    """Many strokes at once: open D of a violin, the full model, 200 samples a period."""
    say("maps")
    took = child("survey")
    step, voice = took["step"], took["voice"]
    say("workers of a cluster")
    shared = child("cluster")
    if voice is None:
        say("SKIPPED: no compiler or no synthesis toolkit (libstk-dev): its voice was not measured")
    return [
        Row("2,000 strokes of 100 periods", took["strokes"], "s", 0.6),
        Row("a map of 40 distances, 50 weights", took["map"], "s", 0.6),
        Row("the same map on one core", took["map one thread"], "s"),
        Row("times faster on all cores", took["map one thread"] / took["map"], ""),
        Row("a first look of the bench, 10 by 32, 80 periods", took["quick map"], "s", 0.15),
        Row("one distance, 32 weights", took["column"], "s"),
        Row("a step and lane, single precision", step, "ns"),
        Row("a sample of a toolkit's plain bowed voice", voice, "ns"),
        Row("a step over a sample of that voice", _over(step, voice), "", 1 / 3),
        Row("five maps by one cluster worker", shared["one worker"], "s"),
        Row("by two", shared["two workers"], "s"),
        Row(
            "speed of two workers over twice one",
            shared["one worker"] / shared["two workers"] / 2,
            "",
            0.85,
            at_least=True,
        ),
    ]


def measure_teaching() -> list[Row]:
    """A first week for a half-size violin, the example's bow plan, a talk of ten slides; no map is kept."""
    say("a week, a piece, a talk")
    took = child("teaching")
    one = took["map"]
    names = {
        "map": "one map, five speeds by ten distances",
        "plan": "a first week, nothing computed yet",
        "plan again": "the same, its maps at hand",
        "sheet": "its sheet (PDF)",
        "strips": "its strips (PDF)",
        "page with sound": "its page with sound",
        "score, published limits": "a bow plan of 20 strokes, published limits",
        "score": "the same, its maps computed",
        "talk": "a talk of ten slides",
    }
    rows = [Row(names[name], took[name], "s") for name in names]
    return rows + [Row(f"{names[name]}, in maps", took[name] / one, "") for name in names if name != "map"]


def _over(time: float, other: float | None) -> float | None:
    return None if other is None else time / other


def run_quietly(command: list[str]) -> None:
    """Runs a command that must succeed."""
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def say(what: str) -> None:
    """Progress, apart from the result."""
    print(f"measuring: {what} ...", file=sys.stderr, flush=True)


def machine() -> dict[str, str | int]:
    """What the figures were taken on."""
    name = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        models = [x for x in cpuinfo.read_text(encoding="utf-8").splitlines() if x.startswith("model name")]
        name = models[0].partition(":")[2].strip() if models else name
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    return {
        "processor": name,
        "cores": os.cpu_count() or 0,
        "system": f"{platform.system()} {platform.machine()}",
        "python": platform.python_version(),
        "load_before": load,
    }


def table(rows: list[Row]) -> str:
    """The figures as text, one a line."""
    lines = [f"{'':44}{'measured':>10}     {'target':>12}"]
    for row in rows:
        value = (
            "unknown" if row.value is None else f"{row.value:.3g}" if row.value < 100 else f"{row.value:.0f}"
        )
        side = "at least" if row.at_least else "at most"
        target = "" if row.target is None else f"{side} {row.target:g}"
        lines.append(f"{row.what:44}{value:>10} {row.unit:3} {target:>12}  {row.verdict()}".rstrip())
    return "\n".join(lines)


def write(part: str, where: dict[str, str | int], rows: list[Row]) -> None:
    """Puts one part's figures into results.json; the other part's stay."""
    kept = json.loads(RESULTS.read_text(encoding="utf-8")) if RESULTS.exists() else {}
    kept[part] = {
        "machine": where,
        "figures": [asdict(row) | {"verdict": row.verdict() or None} for row in rows],
    }
    RESULTS.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


def main() -> int:
    """Measures, prints, and writes on request."""
    parser = argparse.ArgumentParser(prog="python -m bench", description=__doc__)
    parser.add_argument("part", nargs="*", help="string, maps, teaching, listening; all if left out")
    parser.add_argument("--quick", action="store_true", help="leave out the take of two hours")
    parser.add_argument("--write", action="store_true", help="also write bench/results.json")
    options = parser.parse_args()
    known = {"string": measure_string, "maps": measure_maps, "teaching": measure_teaching, "listening": None}
    parts = options.part or list(known)
    if unknown := set(parts) - set(known):
        parser.error(f"unknown part {', '.join(sorted(unknown))}: choose among {', '.join(known)}")
    for part in parts:
        where = machine()
        if measure := known[part]:
            rows = measure()
        else:
            with tempfile.TemporaryDirectory() as folder:
                rows = measure_listening(Path(folder), two_hours=not options.quick)
        on = "{processor}, {cores} cores, load {load_before}, Python {python}".format_map(where)
        print(f"{part}: {on}\n\n{table(rows)}\n")
        if options.write:
            write(part, where, rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
