"""Maps on other machines: a scheduler and workers are real processes on this one, and are ended for real.

Truth is the survey on this machine, whose own tests hold it to the literature: states must be equal,
figures to their last digits.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from distributed import Client, KilledWorker, LocalCluster

from colophony.app import cluster
from colophony.app.cluster import (
    ClusterAsk,
    Question,
    answer_chunk,
    cluster_ask,
    cut,
    identity,
    key_of,
    part_of,
    token_of,
)
from colophony.errors import ClusterError, InputError
from colophony.physics.bowings import Answers, Bowings
from colophony.physics.instruments import find_instrument
from colophony.physics.kernel.state import LANES
from colophony.physics.maps import steady_map
from colophony.physics.player import Model
from colophony.physics.survey import Strokes, survey

VIOLIN = find_instrument("violin")
STRING = VIOLIN.string("E")
PERIODS = 30
QUESTION = Question(VIOLIN, STRING, None, PERIODS, True, Model(), None)
local = partial(survey, VIOLIN, STRING, periods=PERIODS, starts=True)
shared = partial(cluster_ask, instrument=VIOLIN, string=STRING, periods=PERIODS, starts=True)


def bowings(distances: int = 12, weights: int = 40) -> Bowings:
    """Strokes in no order, some with small waves on the string, blocks that are not full."""
    distance, weight = np.meshgrid(np.geomspace(0.008, 0.1, distances), np.geomspace(0.05, 3.0, weights))
    order = np.random.default_rng(4).permutation(distance.size)
    return Bowings(0.2, weight.ravel()[order], distance.ravel()[order], 0.0, 20.0, order % 3)


def assert_equal(found: Answers, expected: Answers) -> None:
    """States and kinds are equal, figures to the last digits of single precision.

    Readers compiled in another process may join a product and a sum in one rounding elsewhere; a unit
    in the last place of a period is 2e-4 cent, of which five are allowed.
    """
    for name in Answers.__dataclass_fields__:
        one, other = getattr(found, name), getattr(expected, name)
        if name in ("state", "start_kind"):
            np.testing.assert_array_equal(one, other, err_msg=name)
        else:
            np.testing.assert_allclose(one, other, rtol=1e-6, atol=1e-3 * (name == "cents"), err_msg=name)


class Machines:
    """A scheduler and workers, each a process of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file = folder, folder / "scheduler.json"
        self.workers: dict[str, subprocess.Popen[bytes]] = {}
        self.scheduler = self._start(
            "scheduler", "--host", "127.0.0.1", "--port", "0", "--idle-timeout", "200"
        )
        self.have(2)

    def _start(self, what: str, *options: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", "--no-dashboard", *options]
        with (self.folder / f"{what}.log").open("ab") as log:
            return subprocess.Popen(
                [*command, "--scheduler-file", str(self.file)],
                cwd=self.folder,
                stdout=log,
                stderr=log,
            )

    def start_worker(self, *options: str) -> str:
        name = f"worker-{len(self.workers)}"
        self.workers[name] = self._start(
            "worker", "--name", name, "--nthreads", "1", "--no-nanny", "--death-timeout", "60", *options
        )
        return name

    def have(self, count: int) -> None:
        """Start workers until so many run."""
        for _ in range(count - len(self.alive())):
            self.start_worker()

    def alive(self) -> list[str]:
        return [name for name, process in self.workers.items() if process.poll() is None]

    def kill(self, name: str) -> None:
        self.workers[name].kill()
        self.workers[name].wait()

    @property
    def address(self) -> str:
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            if self.file.exists() and (text := self.file.read_text()).endswith("}"):
                return str(json.loads(text)["address"])
            time.sleep(0.05)
        raise AssertionError((self.folder / "scheduler.log").read_text())

    def observer(self, workers: int) -> Client:
        client = Client(self.address, set_as_default=False, timeout=60)
        client.wait_for_workers(workers, timeout=60)
        return client

    def end(self) -> None:
        for process in [*self.workers.values(), self.scheduler]:
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def machines(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    made = Machines(tmp_path_factory.mktemp("machines"))
    try:
        local(bowings(1, 1))  # compiles while they start, if nobody has yet
        yield made
    finally:
        made.end()


def named(client: Client) -> dict[str, str]:
    """Names of the workers by address."""
    return {address: w["name"] for address, w in client.scheduler_info(n_workers=-1)["workers"].items()}


# --- chunks


def test_chunks_hold_whole_blocks_and_every_stroke_once() -> None:
    """However many workers: no stroke is missing or twice, and blocks are those of a survey of all."""
    setting, asked = QUESTION.setting(), bowings()
    for threads, most in ((1, 100), (2, 100), (2, 1), (500, 3)):
        strokes, chunks, same = cut(setting, asked, threads=threads, most_blocks=most)
        whole = [
            block.tolist() for seat in setting.seat(Strokes.of(asked))[1] for block in seat.blocks(LANES)
        ]
        np.testing.assert_array_equal(strokes.weight_n[same], asked.weight_n)
        assert [i for chunk in chunks for i in range(480)[chunk]] == list(range(480))
        found = []
        for chunk in chunks:
            _, seats, order = setting.seat(Strokes.of(part_of(strokes, chunk)))
            np.testing.assert_array_equal(order, range(chunk.stop - chunk.start))
            found += [(block + chunk.start).tolist() for seat in seats for block in seat.blocks(LANES)]
        assert found == whole
        assert min(8 * threads, len(whole)) // 2 <= len(chunks) <= len(whole)
        assert max(chunk.stop - chunk.start for chunk in chunks) <= most * LANES


def test_a_key_says_what_is_asked() -> None:
    """The same work has the same key; a hair more weight, another model or note has another."""
    same = find_instrument("violin")
    again = replace(QUESTION, instrument=same, string=same.string("E"))
    asked = bowings(1, 3)
    heavier = replace(asked, weight_n=np.nextafter(asked.weight_n, 9.0))
    token = token_of(QUESTION)
    keys = [
        key_of(token, asked),
        key_of(token_of(replace(QUESTION, frequency_hz=700.0)), asked),
        key_of(token_of(replace(QUESTION, model=Model(compliant_hair=False))), asked),
        key_of(token, heavier),
    ]
    assert len(set(keys)) == len(keys)
    assert key_of(token_of(again), bowings(1, 3)) == keys[0]


# --- two workers


def test_two_workers_answer_as_this_machine_does(machines: Machines) -> None:
    """Every state is equal and every figure to its last digits, in the order asked; what is asked
    twice is bowed once."""
    machines.have(2)
    machines.observer(2).close()
    asked, told = bowings(), []
    with shared(machines.address, progress=lambda *counts: told.append(counts)) as ask:
        assert_equal(ask(asked), local(asked))
        assert ask.answered == 480
        assert told == sorted(told)
        assert told[-1] == (480, 480)
        assert len(set(told)) > 8
        one = bowings(1, LANES)
        twice = Bowings(0.2, np.tile(one.weight_n, 2), one.distance_m[0], 0.0, 20.0, 0)
        told.clear()
        found = ask(twice)
        expected = local(twice)
        assert_equal(found, expected)
        assert ask.answered == ask.asked == 480 + 2 * LANES


def test_a_worker_killed_in_the_middle_loses_nothing_and_doubles_nothing(machines: Machines) -> None:
    """SIGKILL while it holds work: the map is that of this machine, and as many strokes answered as asked."""
    machines.have(2)
    observer = machines.observer(2)
    victim = machines.alive()[-1]
    held: list[str] = []

    def kill_when_it_works(done: int, asked: int) -> None:
        address = next((a for a, name in named(observer).items() if name == victim), None)
        if held or address is None:
            return
        machines.workers[victim].send_signal(signal.SIGSTOP)  # else it may be done before it is killed
        time.sleep(0.05)
        held.extend(observer.processing().get(address, ()))
        machines.workers[victim].send_signal(signal.SIGKILL if held else signal.SIGCONT)

    map_of = partial(
        steady_map,
        STRING,
        speed_m_s=0.2,
        distances_m=np.geomspace(0.01, 0.08, 8),
        tolerance=0.1,
        strokes_at_once=400,
    )
    try:
        with shared(machines.address, progress=kill_when_it_works) as ask:
            found = map_of(ask)
            assert ask.answered == ask.asked == found.ranges.strokes
    finally:
        observer.close()
    assert held, "the worker was idle whenever it was looked at"
    machines.workers[victim].wait(timeout=10)
    assert victim not in machines.alive()
    expected = map_of(local)
    assert found.ranges.strokes == expected.ranges.strokes
    np.testing.assert_array_equal(found.state, expected.state)
    for name in ("weight_min_n", "weight_max_n"):
        np.testing.assert_array_equal(getattr(found.ranges, name), getattr(expected.ranges, name))


def test_an_interrupt_leaves_finished_cells_and_idle_workers(machines: Machines) -> None:
    """Ctrl-C when the first chunk of a block is there: cells whose chunk was finished are those of this
    machine, others are open, and nothing waits on the workers any more.
    """
    machines.have(1)
    observer = machines.observer(1)
    # A job that a script starts in the background inherits a signal that is ignored.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    told: list[int] = []

    def interrupt(done: int, asked: int) -> None:
        if done and not told:
            told.append(done)
            signal.raise_signal(signal.SIGINT)

    places = np.geomspace(0.01, 0.08, 15)
    map_of = partial(
        steady_map, STRING, speed_m_s=0.2, distances_m=places, tolerance=None, strokes_at_once=5000
    )
    question = replace(QUESTION, starts=False, periods=400)
    try:
        with cluster_ask(
            machines.address, instrument=VIOLIN, string=STRING, periods=400, progress=interrupt
        ) as ask:
            found = map_of(ask)
            assert not found.ranges.is_finished
            finished = found.state >= 0
            assert 0 < np.count_nonzero(finished) == found.ranges.strokes == ask.answered < finished.size
            deadline = time.monotonic() + 10
            while any(observer.processing().values()) and time.monotonic() < deadline:
                time.sleep(0.1)
            assert not any(observer.processing().values())
    finally:
        observer.close()
        signal.signal(signal.SIGINT, before)
    np.testing.assert_array_equal(map_of(question.answer).state[finished], found.state[finished])


def test_the_command_gives_the_same_map(
    machines: Machines, colophony: Callable[..., tuple[int, str, str]], tmp_path: Path, monkeypatch: Any
) -> None:
    """``colophony range`` with a scheduler and without: the same cells, limits and sounding points."""
    machines.have(1)
    monkeypatch.setenv("COLOPHONY_CACHE", str(tmp_path))
    small = ("--string", "E", "--distances", 4, "--weights", 8, "--periods", 30, "--json", "--anew")
    shared_out = colophony("range", *small, "--target", "cluster", "--scheduler", machines.address)
    assert shared_out[0] == 0, shared_out[2]
    found, expected = json.loads(shared_out[1]), json.loads(colophony("range", *small)[1])
    assert (found.pop("target"), expected.pop("target")) == ("cluster", "cpu")
    for name in ("seconds", "kept"):
        del found[name], expected[name]
    assert found == expected
    status, out, err = colophony("range", *small, "--target", "cluster")
    assert (status, out) == (1, "")
    assert "scheduler" in err
    assert len(err.splitlines()) == 1


# --- what goes wrong is said in one line


def said(error: pytest.ExceptionInfo[Exception]) -> str:
    text = str(error.value)
    assert "\n" not in text
    return text


def test_bad_input_is_refused_in_the_same_words(machines: Machines) -> None:
    """Before anything is sent, or by a worker."""
    machines.have(1)
    for settings, weight in (({}, 30.0), ({"samples_per_period": 7}, 1.0), ({"periods": 5}, 1.0)):
        bad = Bowings(0.2, weight, 0.03, 0.0, 20.0)
        with pytest.raises(InputError) as here:
            survey(VIOLIN, STRING, bad, **settings)
        with (
            pytest.raises(InputError) as there,
            cluster_ask(machines.address, instrument=VIOLIN, string=STRING, **settings) as ask,
        ):
            ask(bad)
        assert said(there) == said(here)


def test_a_fault_on_a_worker_is_named(machines: Machines) -> None:
    machines.have(1)
    neither = np.array([True, False])  # true or false? numpy refuses to say
    with (
        pytest.raises(ClusterError) as error,
        cluster_ask(
            machines.address,
            instrument=VIOLIN,
            string=STRING,
            samples_per_period=200,
            starts=neither,  # type: ignore[arg-type]
        ) as ask,
    ):
        ask(bowings(1, 3))
    assert "a worker failed (ValueError: " in said(error)
    assert "see its log" in said(error)


@pytest.mark.parametrize(
    ("preload", "words"),
    [
        ("import colophony\ncolophony.__version__ = '0.0.9'\n", "has Colophony 0.0.9"),
        ("import sys\nsys.modules['colophony'] = None\n", "has no Colophony"),
    ],
)
def test_a_worker_with_another_colophony_is_refused(
    machines: Machines, preload: str, words: str, tmp_path: Path
) -> None:
    """One that has another version, and one that has none."""
    (tmp_path / "odd.py").write_text(preload)
    others = len(machines.alive())
    name = machines.start_worker("--preload", str(tmp_path / "odd.py"))
    observer = machines.observer(others + 1)
    try:
        address = next(a for a, w in named(observer).items() if w == name)
        with pytest.raises(ClusterError) as error, shared(machines.address):
            pass
        assert words in said(error)
        assert address in said(error)
        assert "install" in said(error)
    finally:
        machines.kill(name)
        while name in named(observer).values():
            time.sleep(0.05)
        observer.close()


def test_a_worker_that_came_late_checks_for_itself() -> None:
    """It joined after the check: it refuses every chunk of another Colophony."""
    with pytest.raises(ClusterError) as error:
        answer_chunk(QUESTION, bowings(1, 1), ("0.0.9", identity()[1]))
    assert "0.0.9" in said(error)


def test_no_scheduler_no_address_no_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        closed = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
    with pytest.raises(ClusterError) as error, shared(closed, wait_s=0.5):
        pass
    assert closed in said(error)
    assert "dask scheduler" in said(error)
    with pytest.raises(ClusterError) as error, shared("carrier-pigeon://loft", wait_s=0.5):
        pass
    assert "carrier-pigeon://loft" in said(error)
    with (
        LocalCluster(n_workers=0, processes=False, protocol="tcp", dashboard_address=":0") as empty,
        pytest.raises(ClusterError) as error,
        shared(empty.scheduler_address, wait_s=0.5),
    ):
        pass
    assert "has no workers" in said(error)
    assert "dask worker tcp://127.0.0.1" in said(error)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError) as error, shared(closed):
        pass
    assert ".[cluster]" in said(error)


def test_strokes_on_which_workers_die_are_given_up() -> None:
    """The engine gives a chunk to a few workers more and then no longer: said in a line."""

    class Deadly:
        def result(self, timeout: float) -> None:
            raise KilledWorker("chunk", None, 3)  # type: ignore[arg-type]

    ask = ClusterAsk(None, "tcp://x", QUESTION, wait_s=1.0, progress=None)  # type: ignore[arg-type]
    with pytest.raises(ClusterError) as error:
        ask._result(Deadly())  # type: ignore[arg-type]
    assert "several workers died" in said(error)


@pytest.mark.parametrize(("who", "words"), [("workers", "no worker is left"), ("scheduler", "is gone")])
def test_all_gone_in_the_middle(
    machines: Machines, monkeypatch: pytest.MonkeyPatch, who: str, words: str
) -> None:
    """Last of all, since nothing is left after it."""
    machines.have(1)
    machines.observer(1).close()
    monkeypatch.setattr(cluster, "_LOOK_S", 0.2)

    def end(done: int, asked: int) -> None:
        for name in machines.alive() if who == "workers" else ():
            machines.kill(name)
        if who == "scheduler":
            os.kill(machines.scheduler.pid, signal.SIGKILL)

    with pytest.raises(ClusterError) as error, shared(machines.address, wait_s=2.0, progress=end) as ask:
        ask(bowings())
    assert words in said(error)
    assert "start" in said(error)
