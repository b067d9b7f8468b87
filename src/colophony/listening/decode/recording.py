"""One recording, decoded as a stream.

Decoding and resampling are FFmpeg's, through PyAV. Memory does not grow with the length of the take:
frames are gathered to about a second, mixed, resampled and handed on.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any

import av
import av.container
import numpy as np
from numpy.typing import NDArray

from colophony.errors import TakeError
from colophony.language import _
from colophony.listening.decode.clipping import ClipMeter
from colophony.listening.decode.mixing import SLICE_S, Mixdown
from colophony.listening.decode.source import (
    REMEDY,
    open_container,
    open_file,
    shown_name,
    states_frames,
)

#: The longest take that is heard, in seconds.
MAX_TAKE_S = 7200.0
_SLACK_S = 1.0  # encoders round up to whole frames

_RATES_HZ = (8_000, 192_000)
_MAX_CHANNELS = 32
_LOUDEST = 1e4  # floating-point files may exceed 1; beyond +80 dB it is damage, not sound

# Time stamps place the sound; smaller steps than this are rounding, larger than that are damage.
_STAMP_JITTER_S = 0.02
_LONGEST_GAP_S = 60.0

# Containers whose header states the length exactly, so that less sound than stated means damage.
_EXACT_LENGTH = frozenset({"wav", "w64", "aiff", "au", "caf", "flac", "mov,mp4,m4a,3gp,3g2,mj2"})
_MISSING_S = 0.1

# swresample with a longer filter than its default. Measured (tests/listening/test_decode.py):
# flat within 0.02 dB to 0.41 of the lower of both rates, alias images at least 58 dB down from 0.52 of it on.
_RESAMPLER = {"filter_size": "64", "cutoff": "0.95"}

_DECODING_ERRORS = (av.FFmpegError, ValueError, OverflowError)


class Recording:
    """A sound or video file opened for listening. A context manager.

    The content decides what the file is, never its name. With several sound tracks, the decoder's
    choice of the best one is heard (the default track, then the one with most channels).

    Attributes:
        path: as given.
        sample_rate_hz: of the source, 8,000 to 192,000.
        channels: of the source, 1 to 32.
        codec: short name of the coding, for example ``"aac"``.
        container: short name of the file format, for example ``"wav"``.
        duration_s: as the file states it; ``None`` if it does not.
        clipped_share: share of source samples cut flat by overload, 0 to 1, after `blocks`.
        truncated: damage was met after `blocks`: parts are missing or could not be decoded.
        heard_s: seconds of sound handed out by `blocks` so far, silence for missing parts included.

    Raises:
        TakeError: nothing in the file can be heard, or it is longer than `MAX_TAKE_S`.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)
        self._name = shown_name(self.path)
        self._file = open_file(self.path)
        self._container: av.container.InputContainer | None = None
        self.clipped_share = 0.0
        self.truncated = False
        self.heard_s = 0.0
        try:
            self._container = open_container(self._file, self._name)
            self._read_header(self._container)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Recording:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Closes the file; the attributes stay readable."""
        if self._container is not None:
            self._container.close()
            self._container = None
        self._file.close()

    def blocks(self, *, rate_hz: int, block_s: float = 10.0) -> Iterator[NDArray[np.float32]]:
        """Mono sound at ``rate_hz``, full scale 1, in blocks of exactly ``block_s``; the last is shorter.

        Block times follow the file's own time stamps: an encoder's start-up delay is left out, and
        missing stretches are filled with silence. May be called again to hear the file again.

        Yields:
            float32 arrays of shape (n,), finite.

        Raises:
            TakeError: nothing could be decoded, or there is more sound than `MAX_TAKE_S`.
        """
        self.clipped_share, self.truncated, self.heard_s = 0.0, False, 0.0
        size = max(1, round(block_s * rate_hz))
        pending: list[NDArray[np.float32]] = []
        held = handed_out = 0
        for piece in self._resampled(rate_hz):
            pending.append(piece)
            held += len(piece)
            while held >= size:
                joined = np.concatenate(pending)
                block, rest = joined[:size].copy(), joined[size:]
                pending, held = [rest], len(rest)
                handed_out += size
                self.heard_s = handed_out / rate_hz
                yield block
        if held:
            handed_out += held
            self.heard_s = handed_out / rate_hz
            yield np.concatenate(pending)
        if not handed_out:
            raise TakeError(
                _("{name}: no sound in it could be decoded. Record or copy it again. {remedy}").format(
                    name=self._name, remedy=_(REMEDY)
                )
            )

    # Reading, from the header down to frames

    def _read_header(self, container: av.container.InputContainer) -> None:
        stream = container.streams.best("audio")
        if stream is None and container.streams.video:
            raise TakeError(
                _("{name}: a video without sound. Record it again with sound.").format(name=self._name)
            )
        if stream is None:
            raise TakeError(
                _("{name}: no sound track in it; it may have been cut off. Copy it again.").format(
                    name=self._name
                )
            )
        context = stream.codec_context
        if not isinstance(context, av.AudioCodecContext):
            raise TakeError(
                _("{name}: its kind of sound coding is unknown. {remedy}").format(
                    name=self._name, remedy=_(REMEDY)
                )
            )
        self.codec = str(context.name)
        self.container = str(container.format.name)
        self.sample_rate_hz = int(context.sample_rate)
        self.channels = int(context.channels)
        self._check_kind(self.sample_rate_hz, self.channels)
        if stream.duration is not None and stream.time_base is not None:
            self.duration_s: float | None = float(stream.duration * stream.time_base)
        elif container.duration is not None:
            self.duration_s = container.duration / 1e6  # in microseconds
        else:
            self.duration_s = None
        if self.duration_s is not None:
            if not self.duration_s > 0:
                self.duration_s = None
            elif self.duration_s > MAX_TAKE_S + _SLACK_S:
                raise self._too_long(self.duration_s)
        exact = self.container in _EXACT_LENGTH or (
            # One length for all tracks, so it binds the sound only if that is alone.
            (self.container == "matroska,webm" and len(container.streams) == 1)
            or (self.container == "mp3" and states_frames(self._file))
        )
        self._stated_s = self.duration_s if exact else None

    def _check_kind(self, rate_hz: int, channels: int) -> None:
        low, high = _RATES_HZ
        if not low <= rate_hz <= high:
            raise TakeError(
                _(
                    "{name}: {rate} samples a second; it must be {low} to {high}. Save it again at 44100 or "
                    "48000."
                ).format(name=self._name, rate=rate_hz, low=low, high=high)
            )
        if not 1 <= channels <= _MAX_CHANNELS:
            raise TakeError(
                _("{name}: {channels} channels; it must be 1 to {most}. Save it again in stereo.").format(
                    name=self._name, channels=channels, most=_MAX_CHANNELS
                )
            )

    def _too_long(self, seconds: float) -> TakeError:
        minutes = int(seconds // 60)
        length = f"{minutes // 60} h {minutes % 60:02d} min" if minutes < 6000 else _("more than 100 h")
        return TakeError(
            _(
                "{name}: {length} long; the limit is {most} h. Cut it into shorter recordings and listen to "
                "each."
            ).format(name=self._name, length=length, most=f"{MAX_TAKE_S / 3600:.0f}")
        )

    def _resampled(self, rate_hz: int) -> Iterator[NDArray[np.float32]]:
        source_rate: int | None = None
        resampler: _Resampler | None = None
        for source_hz, mono in self._mono():
            if resampler is None or source_hz != source_rate:
                if resampler is not None:
                    yield from resampler.flush()
                resampler, source_rate = _Resampler(source_hz, rate_hz), source_hz
            yield from resampler.push(mono)
        if resampler is not None:
            yield from resampler.flush()

    def _mono(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Source rate and mono samples, about a second at a time; counts overload on the way."""
        shares: list[tuple[float, int]] = []
        meter: ClipMeter | None = None
        mixdown: Mixdown | None = None
        kind: tuple[int, int] | None = None
        counted = 0
        for source_hz, samples in self._seconds():
            if mixdown is None or meter is None or kind != (source_hz, len(samples)):
                if meter is not None:
                    shares.append((meter.share, counted))
                    counted = 0
                kind = (source_hz, len(samples))
                meter = ClipMeter(len(samples), rate_hz=source_hz, codec=self.codec)
                mixdown = Mixdown(len(samples), rate_hz=source_hz)
            meter.add(samples)
            counted += samples.shape[1]
            step = max(1, round(SLICE_S * source_hz))
            slices = [mixdown.mix(samples[:, i : i + step]) for i in range(0, samples.shape[1], step)]
            yield source_hz, np.concatenate(slices)
        if meter is not None:
            shares.append((meter.share, counted))
            self.clipped_share = sum(s * n for s, n in shares) / max(1, sum(n for _, n in shares))

    def _seconds(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Frames gathered to a second or a little more of one rate and number of channels."""
        gathered: list[NDArray[np.float32]] = []
        kind = (0, 0)
        held = 0
        for source_hz, samples in self._frames():
            if gathered and (kind != (source_hz, len(samples)) or held >= kind[0]):
                yield kind[0], np.concatenate(gathered, axis=1)
                gathered, held = [], 0
            kind = (source_hz, len(samples))
            gathered.append(samples)
            held += samples.shape[1]
        if gathered:
            yield kind[0], np.concatenate(gathered, axis=1)

    def _frames(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Decoded frames in order, (rate, samples of shape (channels, n)), with gaps filled."""
        if self._container is None:
            self._container = open_container(self._file, self._name)
        container, self._container = self._container, None
        position_s = 0.0
        # Times count from the start of the file; a video's sound may begin later than its picture.
        expected_s: float | None = container.start_time / 1e6 if container.start_time is not None else None
        try:
            for frame in self._decoded(container):
                samples = _to_float(frame)
                if samples.shape[1] == 0:
                    continue
                self._check_kind(frame.sample_rate, len(samples))
                if frame.pts is not None and frame.time_base is not None:
                    stamp_s = float(frame.pts * frame.time_base)
                    gap_s = stamp_s - expected_s if expected_s is not None else 0.0
                    if _STAMP_JITTER_S < gap_s <= _LONGEST_GAP_S:
                        self.truncated = self.truncated or position_s > 0
                        silent = np.zeros((len(samples), round(gap_s * frame.sample_rate)), dtype=np.float32)
                        position_s += gap_s
                        yield frame.sample_rate, silent
                    if expected_s is None or abs(gap_s) > _STAMP_JITTER_S:
                        expected_s = stamp_s
                elif self.container == "flac" and expected_s is not None:
                    # Every intact frame of a FLAC file carries its place; one without it decodes to
                    # noise, often at full scale.
                    self.truncated = True
                    samples = np.zeros_like(samples)
                length_s = samples.shape[1] / frame.sample_rate
                position_s += length_s
                if expected_s is not None:
                    expected_s += length_s
                if position_s > MAX_TAKE_S + _SLACK_S:
                    raise self._too_long(position_s)
                yield frame.sample_rate, samples
        finally:
            container.close()
        if self._stated_s is not None and position_s < self._stated_s - _MISSING_S:
            self.truncated = True

    def _decoded(self, container: av.container.InputContainer) -> Iterator[av.AudioFrame]:
        """Every frame that decodes; damaged packets are passed over and remembered."""
        stream = container.streams.best("audio")
        if stream is None:
            return
        packets = container.demux(stream)
        while True:
            try:
                packet = next(packets, None)
            except _DECODING_ERRORS:  # the container itself is broken here: nothing more to find
                self.truncated = True
                packet = None
            if packet is None:
                return
            self.truncated = self.truncated or packet.is_corrupt
            try:
                frames = packet.decode()
            except av.EOFError:
                return
            except _DECODING_ERRORS:
                self.truncated = True
                continue
            for frame in frames:
                if isinstance(frame, av.AudioFrame):
                    yield frame


def _to_float(frame: av.AudioFrame) -> NDArray[np.float32]:
    """A frame of any sample format as float32, shape (channels, n), full scale 1, finite."""
    raw: NDArray[Any] = frame.to_ndarray()
    if not frame.format.is_planar:
        raw = raw.reshape(-1, frame.layout.nb_channels).T
    if raw.dtype.kind == "f":
        clean = np.nan_to_num(raw, nan=0.0, posinf=0.0, neginf=0.0)
        return np.asarray(np.clip(clean, -_LOUDEST, _LOUDEST), dtype=np.float32)
    if raw.dtype.kind == "u":
        return np.asarray((raw - 128.0) / 128.0, dtype=np.float32)  # the decoder's only such format is u8
    return np.asarray(raw / 2.0 ** (8 * raw.itemsize - 1), dtype=np.float32)


class _Resampler:
    """Mono samples from one rate to another; keeps the position of time zero."""

    def __init__(self, source_hz: int, rate_hz: int) -> None:
        self._source_hz = source_hz
        self._rate_hz = rate_hz
        self._pushed = 0
        self._came_out = 0
        self._resampler: av.AudioResampler | None = None
        if source_hz != rate_hz:
            self._resampler = av.AudioResampler(format="flt", layout="mono", rate=rate_hz, options=_RESAMPLER)

    def push(self, mono: NDArray[np.float32]) -> Iterator[NDArray[np.float32]]:
        if self._resampler is None:
            yield mono
            return
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(mono[None, :]), format="flt", layout="mono")
        frame.sample_rate = self._source_hz
        frame.time_base = Fraction(1, self._source_hz)
        frame.pts = self._pushed
        self._pushed += len(mono)
        for out in self._resampler.resample(frame):
            self._came_out += out.samples
            yield out.to_ndarray()[0]

    def flush(self) -> Iterator[NDArray[np.float32]]:
        if self._resampler is None or not self._pushed:
            return
        pushed, came_out = self._pushed, self._came_out
        # Less sound than the filter is long would be swallowed whole: lengthen it, cut it again.
        short = came_out == 0
        padded = list(self.push(np.zeros(self._source_hz // 10, dtype=np.float32))) if short else []
        padded += [out.to_ndarray()[0] for out in self._resampler.resample(None)]
        rest = np.concatenate(padded) if padded else np.empty(0, dtype=np.float32)
        yield rest[: -(-pushed * self._rate_hz // self._source_hz)] if short else rest
