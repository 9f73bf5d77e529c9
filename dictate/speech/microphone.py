"""The microphone, through PortAudio."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Iterator
from types import ModuleType
from typing import Any

import numpy as np
import soxr

from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples

BLOCK_S = 0.03
"""Length (s) of the blocks asked of the device."""

SILENT_AFTER_S = 3.0
"""A device that delivers nothing for this long (s) has been unplugged."""

_WAITING_BLOCKS = 20_000
"""Ten minutes: nothing is lost while a speech engine hangs and is begun anew."""


class Microphone:
    """An AudioSource that records until `stop` is called, once.

    `name` is the device's name. `overflows` counts the times sound was lost because the machine
    was too busy to take it.
    """

    def __init__(self, device: str | int | None = None) -> None:
        """Choose a device by its name or part of it, by its number, or the system's own choice.

        Raises DictateError if PortAudio or the device is missing.
        """
        self._sounddevice = _sounddevice()
        self._device = device
        self._info = _input_device(self._sounddevice, device)
        self.name = str(self._info["name"])
        self.overflows = 0
        self._stopped = threading.Event()
        self._queue: queue.Queue[Samples | None] = queue.Queue(_WAITING_BLOCKS)

    def stop(self) -> None:
        """End `blocks`, from any thread; a stopped microphone stays stopped."""
        self._stopped.set()
        self._wake()

    def blocks(self) -> Iterator[Samples]:
        """Record, and yield blocks as they come until `stop` is called.

        Raises DictateError if the device cannot be opened, or delivers no more sound.
        """
        if self._stopped.is_set():
            return
        stream, rate = self._open()
        resampler = None
        if rate != SAMPLE_RATE:
            resampler = soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="int16")
        try:
            while (block := self._next(stream)) is not None:
                samples = block if resampler is None else resampler.resample_chunk(block)
                if samples.size:
                    yield samples
        finally:
            stream.close()

    def _next(self, stream: Any) -> Samples | None:
        while not self._stopped.is_set():
            try:
                block = self._queue.get(timeout=SILENT_AFTER_S)
            except queue.Empty:
                raise self._gone() from None
            if block is not None and not self._stopped.is_set():
                return block
            if not self._stopped.is_set() and not stream.active:
                raise self._gone()
        return None

    def _gone(self) -> DictateError:
        return DictateError(f"The microphone {self.name} has gone silent; plug it in again.")

    def _wake(self) -> None:
        """Let the reader look up; if the queue is full it has enough to wake up to."""
        with contextlib.suppress(queue.Full):
            self._queue.put_nowait(None)

    def _open(self) -> tuple[Any, float]:
        """Return a running stream and its rate (Hz): 16 kHz, or what the device insists on."""
        own_rate = float(self._info["default_samplerate"])
        channels = int(self._info["max_input_channels"])
        attempts = dict.fromkeys([(float(SAMPLE_RATE), 1), (own_rate, 1), (own_rate, channels)])
        for rate, count in attempts:
            try:
                return self._open_at(rate, count), rate
            except self._sounddevice.PortAudioError as refusal:
                error = refusal
        raise DictateError(
            f"The microphone {self.name} cannot be opened ({error}); "
            "close other programs that use it and check that this one may record."
        ) from error

    def _open_at(self, rate: float, channels: int) -> Any:
        stream = self._sounddevice.InputStream(
            samplerate=rate,
            blocksize=round(rate * BLOCK_S),
            device=self._device,
            channels=channels,
            dtype="int16",
            callback=self._receive,
            finished_callback=self._wake,
        )
        try:
            stream.start()
        except self._sounddevice.PortAudioError:
            stream.close()
            raise
        return stream

    def _receive(self, recorded: Samples, frames: int, time: Any, status: Any) -> None:
        """Take sound, shape (frames, channels), in PortAudio's own thread."""
        if status.input_overflow:
            self.overflows += 1
        if recorded.shape[1] == 1:
            block = recorded[:, 0].copy()
        else:
            block = np.rint(recorded.mean(axis=1)).astype(np.int16)
        try:
            self._queue.put_nowait(block)
        except queue.Full:
            self.overflows += 1


def input_devices() -> list[str]:
    """Return the names of the devices that can record, each fit to give to Microphone.

    Raises DictateError if PortAudio is missing.
    """
    sounddevice = _sounddevice()
    hosts = sounddevice.query_hostapis()
    return [
        f"{device['name']}, {hosts[device['hostapi']]['name']}"
        for device in sounddevice.query_devices()
        if device["max_input_channels"] > 0
    ]


def device_name(device: str | int | None) -> str:
    """Return the own name of a device that is chosen as Microphone chooses it.

    Raises DictateError if PortAudio or the device is missing.
    """
    return str(_input_device(_sounddevice(), device)["name"])


def look_again() -> None:
    """Look for devices that were connected since the program was started. PortAudio closes every
    stream for that, so nothing may be recorded or played meanwhile.

    Raises DictateError if PortAudio is missing or finds no sound system.
    """
    sounddevice = _sounddevice()
    try:
        # PortAudio lists the devices once; sounddevice has no public name for these two.
        sounddevice._terminate()
        sounddevice._initialize()
    except sounddevice.PortAudioError as error:
        raise DictateError(
            f"The sound system did not answer ({error}): start dictate again."
        ) from error


def _sounddevice() -> ModuleType:
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise DictateError(
            "The PortAudio library is missing; install it "
            "(on Debian or Ubuntu: sudo apt install libportaudio2)."
        ) from error
    module: ModuleType = sounddevice
    return module


def _input_device(sounddevice: ModuleType, device: str | int | None) -> dict[str, Any]:
    try:
        info: dict[str, Any] = sounddevice.query_devices(device, "input")
    except (sounddevice.PortAudioError, ValueError) as error:
        if device is None or not input_devices():
            message = "No microphone was found; plug one in and start again."
        elif "Multiple" in str(error):
            message = f"More than one microphone matches {device!r}; give more of its name."
        else:
            known = "; ".join(input_devices())
            message = f"There is no microphone {device!r}; choose one of these: {known}."
        raise DictateError(message) from error
    return info
