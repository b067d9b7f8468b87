"""The string played as the hand moves: over a WebSocket the page asks for samples with its newest gesture.

The page asks for as many samples as its sound card is about to need, so the sound card is the only clock;
see docs/decisions/0120-the-sound-card-asks.md. All numbers are little-endian.

=========  ==========================================================================================
asks       number of the request and count of samples (uint32), bow speed m/s, weight N, contact distance
           m, tilt degrees (float32): 24 bytes
answers    number of the request, count (uint32), then so many samples (float32)
``state``  asks, as text, what the string did just now; answers with JSON
=========  ==========================================================================================
"""

from __future__ import annotations

import asyncio
import gc
import json
import math
import struct
import sys
import time
from typing import TYPE_CHECKING

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocket, WebSocketDisconnect

from colophony.app.bench import Limits, Setting, limits_of, play
from colophony.app.bench.pictures import sign
from colophony.app.bench.setting import SPEED_CM_S
from colophony.app.bow import RATE_HZ
from colophony.app.web.bench import workbench_of
from colophony.app.web.bench_map import maps_of
from colophony.errors import ColophonyError, InputError
from colophony.language import _
from colophony.teaching.room import weight_range_n
from colophony.teaching.wording.bowed import simulated_word, told_state

if TYPE_CHECKING:
    from colophony.physics.live import Voice
    from colophony.physics.motion import Motion
    from colophony.physics.strings import BowedString

router = APIRouter()

REQUEST = struct.Struct("<IIffff")
_ANSWER = struct.Struct("<II")
#: Most samples asked for at once: 85 ms at 48 kHz. More would make the hand late.
MOST_SAMPLES = 4096
#: Samples that may be asked for ahead of the clock, in s, before a page counts as running wild.
_AHEAD_S = 2.0
#: Pages that play at once, and how long one may hold its voice without asking for a sample.
MOST_VOICES = 4
IDLE_S = 120.0
#: For so long a thread that draws or reads may keep the sound waiting; Python's own measure is 5 ms.
_TURN_S = 0.001
#: Vibrations on which a state is judged.
_PERIODS = 12
_REFUSED = 1008  # RFC 6455, 7.4.1: policy violation


class _RefusedError(ColophonyError):
    """The page asked for what no page of ours asks for."""


@router.websocket("/bench/bow")
async def bow(socket: WebSocket) -> None:
    """Play one string for one page until it leaves, is idle for long, or misbehaves."""
    bench = workbench_of(socket)
    await socket.accept()
    if bench.voices >= MOST_VOICES:
        await _refuse(
            socket,
            _("{n} pages play at once already: close one of them and draw again.").format(n=MOST_VOICES),
        )
        return
    bench.voices += 1
    try:
        setting = Setting.read(socket.query_params)
        voice = await run_in_threadpool(_voice, setting)
        await socket.send_text(json.dumps({"ready": True, "rate_hz": RATE_HZ}))
        await _play(socket, voice, setting)
    except (InputError, _RefusedError) as error:
        await _refuse(socket, str(error))
    except TimeoutError:
        await _refuse(socket, _("The bow has rested for long: draw it again."))
    except WebSocketDisconnect:
        pass
    finally:
        bench.voices -= 1


async def _refuse(socket: WebSocket, line: str) -> None:
    await socket.send_text(json.dumps({"line": line}))
    await socket.close(_REFUSED)


def _voice(setting: Setting) -> Voice:
    """Return a voice that has played already, so that no sample waits for what is done once."""
    from colophony.physics.instruments import find_instrument
    from colophony.physics.live import Voice

    instrument = find_instrument(setting.instrument, setting.size)

    def make() -> Voice:
        return Voice(
            instrument,
            instrument.string(setting.string),
            frequency_hz=setting.frequency_hz,
            rate_hz=RATE_HZ,
        )

    make().play(64, speed_m_s=0.1, weight_n=0.1, distance_m=setting.distance_mm / 1000, tilt_deg=0.0)
    voice = make()
    # A search for garbage through everything that was loaded takes a tenth of a second, in the middle of a
    # stroke: what is there now stays, and is searched no more.
    gc.collect()
    gc.freeze()
    return voice


def warm_up() -> None:
    """Load and play the engine once, so that the first stroke does not wait for it."""
    sys.setswitchinterval(_TURN_S)
    play(Setting.usual())
    _voice(Setting.usual())


async def _play(socket: WebSocket, voice: Voice, setting: Setting) -> None:
    """Answer requests in their order. A block takes a fraction of its own time: no thread, no waiting."""
    began, played = time.monotonic(), 0
    limits, maps = limits_of(setting.bowed, setting.frequency_hz), maps_of(socket)
    clock = asyncio.get_running_loop().time
    async with asyncio.timeout(IDLE_S) as idle:
        while True:
            message = await socket.receive()
            idle.reschedule(clock() + IDLE_S)
            if message["type"] == "websocket.disconnect":
                return
            if message.get("text") is not None:
                await _tell_state(socket, voice, setting.bowed, message["text"])
                continue
            number, count, gesture = read_request(message.get("bytes") or b"", limits)
            if gesture["weight_n"] > 0.0:
                maps.bowed()
            played += count
            if played > (time.monotonic() - began + _AHEAD_S) * RATE_HZ * 1.05:
                raise _RefusedError(_("More sound was asked for than time has passed: open the page again."))
            samples = voice.play(count, **gesture).astype("<f4", copy=False)
            await socket.send_bytes(_ANSWER.pack(number, count) + samples.tobytes())


def read_request(content: bytes, limits: Limits) -> tuple[int, int, dict[str, float]]:
    """Return number, count and gesture of a request; what a hand overshoots is held at its limit.

    Raises `ColophonyError` for a message of another size, too many samples, or a value that is no number.
    """
    if len(content) != REQUEST.size:
        raise _RefusedError(_("The page and the studio do not understand each other: open the page again."))
    number, count, speed_m_s, weight_n, distance_m, tilt_deg = REQUEST.unpack(content)
    if not 0 < count <= MOST_SAMPLES:
        line = _("{count} samples at once are refused: ask for 1 to {most}.")
        raise _RefusedError(line.format(count=count, most=MOST_SAMPLES))
    if not all(math.isfinite(value) for value in (speed_m_s, weight_n, distance_m, tilt_deg)):
        raise _RefusedError(_("A gesture holds a value that is no number: open the page again."))
    fastest = limits.speed_cm_s[1] / 100
    return (
        number,
        count,
        {
            "speed_m_s": _held(speed_m_s, (-fastest, fastest)),
            "weight_n": _held(weight_n, (0.0, limits.weight_n[1])),
            "distance_m": _held(1000 * distance_m, limits.distance_mm) / 1000,
            "tilt_deg": _held(tilt_deg, limits.tilt_deg),
        },
    )


def _held(value: float, limits: tuple[float, float]) -> float:
    return min(max(value, limits[0]), limits[1])


async def _tell_state(socket: WebSocket, voice: Voice, string: BowedString, text: str) -> None:
    if text != "state":
        raise _RefusedError(_("The page and the studio do not understand each other: open the page again."))
    motion = voice.recent(_PERIODS)
    state = await run_in_threadpool(_state, motion, string)
    await socket.send_text(json.dumps({"state": state, "html": sign(state, simulated_word(state), size=26)}))


def _state(motion: Motion, string: BowedString) -> str:
    """Return the state of what was played last, as it is told of any stroke of the same weight and speed."""
    from colophony.physics.regimes import read_motion

    state = str(read_motion(motion, periods=_PERIODS).state)
    speed_m_s = float(abs(motion.bow_speed_m_s).mean())
    if 100 * speed_m_s < SPEED_CM_S[0]:
        return state  # a bow that rests has no greatest weight
    greatest_n = weight_range_n(string, beta=motion.beta, speed_m_s=speed_m_s)[1]
    return told_state(state, weight_n=float(motion.weight_n.mean()), greatest_n=greatest_n)
