"""Many machines share the strokes of a map: `cluster_ask` puts them to the workers of a dask scheduler.

The strokes are cut into chunks of whole engine blocks, so that a worker's answers are those of a survey on
this machine. What a worker that died had not handed over is asked again elsewhere.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import math
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from colophony import __version__
from colophony.errors import ClusterError, ColophonyError
from colophony.language import _
from colophony.physics.bowings import Answers, Bowings, Interrupted

if TYPE_CHECKING:
    from distributed import Client, Future

    from colophony.physics.instruments import Instrument
    from colophony.physics.player import Model
    from colophony.physics.strings import BowedString
    from colophony.physics.survey import Setting, Strokes

#: Chunks for every thread of every worker: so many that none waits long for the last.
_CHUNKS_A_THREAD = 8
#: Steps of strings in a chunk, at most: about half a second of one core.
_MOST_STEPS = 20_000_000
#: Packages of `colophony.physics` that ask, and have no part in an answer.
_ASKING = ("maps", "limits")
#: How often somebody looks whether a worker is left, s.
_LOOK_S = 2.0
#: Loggers of the engine whose remarks would stand between the lines meant for a person.
_LOGGERS = ("distributed", "distributed.client")


@dataclass(frozen=True, slots=True)
class Question:
    """What all strokes of a map share; goes to the workers with every chunk."""

    instrument: Instrument
    string: BowedString
    frequency_hz: float | None
    periods: int
    starts: bool
    model: Model
    samples_per_period: int | None

    def setting(self) -> Setting:
        """Prepare the string at its note; `InputError` for what cannot be played or simulated."""
        from colophony.physics.simulation import note_of
        from colophony.physics.survey import Setting

        frequency_hz = note_of(self.string, None, self.frequency_hz)
        return Setting(
            self.instrument,
            self.string,
            float(frequency_hz),  # type: ignore[arg-type]  # a number, since one was given
            self.model,
            self.samples_per_period,
            self.periods,
            self.starts,
        )

    def answer(self, bowings: Bowings, threads: int | None = None) -> Answers:
        """Bow the strokes on this machine."""
        from colophony.physics.survey import survey

        return survey(
            self.instrument,
            self.string,
            bowings,
            frequency_hz=self.frequency_hz,
            periods=self.periods,
            starts=self.starts,
            model=self.model,
            samples_per_period=self.samples_per_period,
            threads=threads,
        )


@contextmanager
def cluster_ask(
    address: str,
    *,
    instrument: Instrument,
    string: BowedString,
    frequency_hz: float | None = None,
    periods: int = 100,
    starts: bool = False,
    model: Model | None = None,
    samples_per_period: int | None = None,
    wait_s: float = 20.0,
    progress: Callable[[int, int], None] | None = None,
) -> Iterator[ClusterAsk]:
    """Yield what answers strokes on the workers of a scheduler; an ``ask`` of `colophony.physics.maps`.

    Parameters
    ----------
    address : of the scheduler, such as ``tcp://192.168.0.5:8786``, or ``tls://...``
    instrument, string, frequency_hz, periods, starts, model, samples_per_period : as `survey`
    wait_s : how long to wait for the scheduler, and for a worker where there is none
    progress : called after every chunk, and where none comes every two seconds, with the strokes answered and
        those asked so far; it may raise `KeyboardInterrupt`

    Raises
    ------
    ClusterError : no scheduler, no worker, a machine with another Colophony
    """
    try:
        from distributed import Client
    except ModuleNotFoundError as error:
        raise ClusterError(
            _("sharing the work needs {package}: run pip install '.[cluster]' in Colophony's folder").format(
                package=error.name
            )
        ) from error
    from colophony.physics.player import Model

    question = Question(
        instrument, string, frequency_hz, periods, starts, model or Model(), samples_per_period
    )
    question.setting()  # what cannot be played is refused before anybody is asked
    with _quiet():
        asyncio.run(_greet(address, wait_s))
        with Client(address, timeout=wait_s, set_as_default=False, name="colophony") as client:
            _check_machines(client, address, wait_s)
            yield ClusterAsk(client, address, question, wait_s=wait_s, progress=progress)


class ClusterAsk:
    """Answers strokes on the workers of a scheduler; the same as `survey` on this machine, in the same order.

    After a `KeyboardInterrupt` what no worker has begun is taken back, and `Interrupted` brings the map what
    is finished. Raises `ClusterError` where the workers or the scheduler fail for good.
    """

    def __init__(
        self,
        client: Client,
        address: str,
        question: Question,
        *,
        wait_s: float,
        progress: Callable[[int, int], None] | None,
    ) -> None:
        """Hold the connection; `cluster_ask` makes it."""
        from colophony.physics.kernel.state import LANES

        self._client, self._address, self._question, self._wait_s = client, address, question, wait_s
        self._progress = progress
        self.asked, self.answered = 0, 0
        self._setting, self._token = question.setting(), token_of(question)
        self._most_blocks = max(1, _MOST_STEPS // (LANES * self._setting.steps))
        self._strokes_a_chunk = LANES * self._most_blocks

    @property
    def strokes_at_once(self) -> int:
        """How many strokes keep all workers busy: for `steady_map` and others."""
        return self._strokes_a_chunk * _CHUNKS_A_THREAD * max(1, self._threads())

    def __call__(self, bowings: Bowings) -> Answers:
        """Return what the string did under each stroke."""
        strokes, chunks, same = cut(
            self._setting, bowings, threads=self._threads(), most_blocks=self._most_blocks
        )
        parts = [part_of(strokes, chunk) for chunk in chunks]
        keys = [key_of(self._token, part) for part in parts]
        times = np.bincount(same, minlength=len(strokes.weight_n))  # how often each of them was asked
        count_of = {key: int(times[chunk].sum()) for key, chunk in zip(keys, chunks, strict=True)}
        self.asked += len(same)
        found = {key: _no_answers(chunk.stop - chunk.start) for key, chunk in zip(keys, chunks, strict=True)}

        def in_order() -> Answers:
            return Answers(
                *(
                    np.concatenate([getattr(found[key], field.name) for key in keys])[same]
                    for field in fields(Answers)
                )
            )

        try:
            for key, answers in self._gather(dict(zip(keys, parts, strict=True))):
                found[key] = answers
                self.answered += count_of[key]
                if self._progress:
                    self._progress(self.answered, self.asked)
        except KeyboardInterrupt as stop:
            raise Interrupted(in_order()) from stop
        return in_order()

    def _threads(self) -> int:
        """Return how many strokes the workers bow at once; `ClusterError` where nobody answers any more."""
        try:
            return sum(self._client.nthreads().values())
        except (OSError, RuntimeError) as error:
            raise self._gone() from error

    def _gather(self, parts: dict[str, Bowings]) -> Iterator[tuple[str, Answers]]:
        """Yield the answers of every chunk once, as they come."""
        from distributed import as_completed

        futures = self._client.map(
            answer_chunk,
            [self._question] * len(parts),
            list(parts.values()),
            [identity()] * len(parts),
            key=list(parts),
        )
        left: dict[str, Future[Answers]] = {str(future.key): future for future in futures}
        del futures
        lonely_s = 0.0
        try:
            while left:
                try:
                    for future in as_completed(list(left.values()), loop=self._client.loop, timeout=_LOOK_S):
                        answers = self._result(future)
                        key = str(future.key)
                        del left[key], future  # the workers may forget it
                        yield key, answers
                except TimeoutError:
                    if self._progress:
                        self._progress(self.answered, self.asked)
                    lonely_s = self._lonely_for(lonely_s)
        finally:
            if left:
                self._client.cancel(list(left.values()))

    def _result(self, future: Future[Answers]) -> Answers:
        """Return the answers of a chunk that is done, or say in a line why there are none."""
        from distributed import KilledWorker

        try:
            return future.result(timeout=_LOOK_S)
        except ColophonyError:
            raise
        except KilledWorker as error:
            raise ClusterError(
                _("several workers died on the same strokes: see their logs (memory?), then ask again")
            ) from error
        except CancelledError as error:
            raise self._gone() from error
        except Exception as error:
            if isinstance(error, TimeoutError) and future.status != "error":
                raise  # the worker that had them is gone: they are bowed again
            raise ClusterError(
                _("a worker failed ({kind}: {error}): see its log, then ask again").format(
                    kind=type(error).__name__, error=_line(error)
                )
            ) from error

    def _gone(self) -> ClusterError:
        return ClusterError(
            _("the scheduler at {address} is gone: start it and its workers, then ask again").format(
                address=self._address
            )
        )

    def _lonely_for(self, before_s: float) -> float:
        """Return how long there has been no worker, s; `ClusterError` when it is too long."""
        if self._threads():
            return 0.0
        lonely_s = before_s + _LOOK_S
        if lonely_s > self._wait_s:
            raise ClusterError(
                _(
                    "no worker is left at {address}, and none came within {time} s: start one with dask "
                    "worker {address}, then ask again"
                ).format(address=self._address, time=f"{self._wait_s:g}")
            )
        return lonely_s


# --- chunks


def cut(
    setting: Setting, bowings: Bowings, *, threads: int, most_blocks: int
) -> tuple[Strokes, list[slice], NDArray[np.intp]]:
    """Return the strokes that differ for the engine, the chunks of them, and which stroke is whose.

    Chunks are whole blocks of the engine, of neighbouring distances. A survey of a chunk forms the very same
    blocks, so that its answers are those of a survey of all.
    """
    from colophony.physics.kernel.state import LANES
    from colophony.physics.survey import Strokes

    strokes, seats, same = setting.seat(Strokes.of(bowings))
    blocks = [block for seat in seats for block in seat.blocks(LANES)]
    each = math.ceil(len(blocks) / (_CHUNKS_A_THREAD * max(1, threads)))
    each = max(1, min(each, most_blocks))
    chunks = [blocks[first : first + each] for first in range(0, len(blocks), each)]
    return strokes, [slice(int(c[0][0]), int(c[-1][-1]) + 1) for c in chunks], same


def part_of(strokes: Strokes, chunk: slice) -> Bowings:
    """Return some of the strokes."""
    return Bowings(*(getattr(strokes, field.name)[chunk] for field in fields(Bowings)))


def _no_answers(count: int) -> Answers:
    columns: dict[str, Any] = {field.name: np.full(count, np.nan, np.float32) for field in fields(Answers)}
    return Answers(**columns | {name: np.full(count, -1, np.int8) for name in ("state", "start_kind")})


def token_of(question: Question) -> bytes:
    """Return a digest of what all chunks share, and of the version that answers."""
    from dask.base import tokenize

    return str(tokenize(identity(), question, ensure_deterministic=True)).encode()


def key_of(token: bytes, part: Bowings) -> str:
    """Return a name for a chunk that says what is asked, by which version: the same work, the same name."""
    digest = hashlib.sha256(token)
    for field in fields(Bowings):
        digest.update(np.ascontiguousarray(getattr(part, field.name)).tobytes())
    return f"colophony-{digest.hexdigest()[:32]}"


# --- on a worker


def answer_chunk(question: Question, bowings: Bowings, asker: tuple[str, str]) -> Answers:
    """Answer a chunk with one core; a worker that came late with another Colophony refuses."""
    if asker != identity():
        raise ClusterError(_other_version(_("a worker"), identity(), asker))
    return question.answer(bowings, threads=1)


@cache
def identity() -> tuple[str, str]:
    """Return this machine's version of Colophony and a digest of what answers a survey."""
    import colophony.physics

    folder = Path(colophony.physics.__file__).parent
    digest = hashlib.sha256()
    for source in sorted(folder.rglob("*.py")):
        if source.parent.name in _ASKING:
            continue
        digest.update(source.relative_to(folder).as_posix().encode() + source.read_bytes())
    return __version__, digest.hexdigest()[:16]


# --- checks


async def _greet(address: str, wait_s: float) -> None:
    """Refuse an address at which no scheduler answers."""
    from distributed import Security, rpc

    listener: Any = None
    try:
        listener = rpc(address, timeout=wait_s, connection_args=Security().get_connection_args("client"))
        who = (await asyncio.wait_for(listener.identity(), wait_s))["type"]
    except ValueError as error:
        raise ClusterError(
            _("{address!r} is no address of a scheduler: give one such as tcp://192.168.0.5:8786").format(
                address=address
            )
        ) from error
    except TypeError as error:
        raise ClusterError(
            _(
                "{address} needs certificates: name them in the settings of dask (distributed.comm.tls)"
            ).format(address=address)
        ) from error
    except OSError as error:  # also when time is out
        raise ClusterError(
            _(
                "no scheduler answers at {address} within {time} s: start one with dask scheduler and give "
                "the address it prints"
            ).format(address=address, time=f"{wait_s:g}")
        ) from error
    finally:
        if listener is not None:
            await listener.close_rpc()
    if who != "Scheduler":
        raise ClusterError(
            _("at {address} listens no scheduler but a {other}: give the scheduler's address").format(
                address=address, other=who.lower()
            )
        )


def _check_machines(client: Client, address: str, wait_s: float) -> None:
    """Refuse a scheduler without workers, and machines that would answer by another Colophony."""
    try:
        client.wait_for_workers(1, timeout=wait_s)
    except TimeoutError as error:
        raise ClusterError(
            _(
                "the scheduler at {address} has no workers, and none came within {time} s: start one with "
                "dask worker {address}"
            ).format(address=address, time=f"{wait_s:g}")
        ) from error
    try:
        scheduler = client.run_on_scheduler(identity)
    except Exception as error:
        scheduler = error
    machines = {_("the scheduler"): scheduler} | {
        _("the worker at {address}").format(address=worker): answer
        for worker, answer in client.run(identity, on_error="return").items()
    }
    for who, theirs in machines.items():
        if isinstance(theirs, Exception):
            raise ClusterError(
                _(
                    "{who} at {address} has no Colophony {version}: install it there with the same extra "
                    "({kind}: {error})"
                ).format(
                    who=who,
                    address=address,
                    version=__version__,
                    kind=type(theirs).__name__,
                    error=_line(theirs),
                )
            ) from theirs
        if theirs != identity():
            raise ClusterError(_other_version(who, theirs, identity()))


def _other_version(who: str, theirs: Any, ours: tuple[str, str]) -> str:
    return _(
        "{who} has Colophony {theirs} ({its}), this machine {ours} ({own}): install the same everywhere"
    ).format(who=who, theirs=theirs[0], its=theirs[1], ours=ours[0], own=ours[1])


def _line(error: BaseException) -> str:
    return " ".join(str(error).split())[:200] or _("no message")


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the engine's remarks from the terminal: what matters is raised as one line."""
    loggers = [logging.getLogger(name) for name in _LOGGERS]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)
