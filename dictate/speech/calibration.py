"""What a microphone is worth in this room: measured from two seconds of the room and one phrase.

Everything here is worked out from samples; nothing records, prints or keeps anything.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.level import (
    FRAME_SAMPLES,
    SILENCE_DBFS,
    BandMeter,
    level_dbfs,
)
from dictate.speech.recogniser import Hypothesis, Recogniser
from dictate.speech.segmentation import Segmenter, SpeechEnded

ROOM_S = 2.0
"""How long (s) the room is listened to before the phrase."""

SHORTEST_S = 1.0
"""Less sound (s) of the room or of the phrase cannot be measured."""

Verdict: TypeAlias = Literal["good", "usable", "poor"]
Understood: TypeAlias = Literal["yes", "unsure", "no"]
Floats: TypeAlias = npt.NDArray[np.float64]

# What was measured at each of these limits stands in docs/calibration.md.

GOOD_SNR_DB = 30.0
USABLE_SNR_DB = 25.0
"""How far speech must stand above the room."""

SOFT_DBFS = -45.0
"""Softer speech should be turned up."""

CLIPPED_SHARE = 0.001
POOR_CLIPPED_SHARE = 0.05
"""Shares (0 to 1) of the phrase that lie on flat tops."""

OFFSET = 0.02
"""The mean of the room, as a share (0 to 1) of full scale, that is worth an advice."""

HUM_DBFS = -50.0
"""The level of the mains' tones together that is worth an advice."""

NARROW_DB = -60.0
"""The strongest sounds from 4.4 to 7 kHz beside those from 0.3 to 3.4 kHz, below which nothing
can be said to pass above 4 kHz."""

_ACTIVE_DB = 20.0
_OVER_ROOM_DB = 3.0
_DEAD_PEAK = 1
_NEAR_THE_TOP = 0.99
_FULL_SCALE = 32768.0
_ROUNDING = 4 / 12
"""The power (squared steps) that is put down to rounding: a twelfth by the converter, another
where the mean is taken off, and twice that for its chance."""
_HUM_TONES = 5
_HUM_RISE_DB = 15.0
_FEWEST_HUM_TONES = 2
_MAINS_DRIFT_HZ = 0.2


@dataclass(frozen=True)
class Calibration:
    """What was measured, what it comes to, and what to do about it, a sentence each.

    Levels are in dBFS. `snr_db`, how far the frames of speech stand above the room (dB), and
    `room_by_band_dbfs` are of the bands between `level.BAND_EDGES_HZ`. `speech_dbfs` and `snr_db`
    are None where no speech was found. `clipped_share` (0 to 1) is of the phrase's samples,
    `dc_offset` (-1 to 1) of full scale. `mains_hz` is 50 or 60 where the mains hum, else None.
    `narrow_band` says that nothing passes above 4 kHz, `gated` that the room is digital silence
    though the phrase is not, `dead` that both are. `heard` is what the engine made of the phrase
    and `understood` whether those were its words; None where no engine listened.
    """

    verdict: Verdict
    advice: tuple[str, ...]
    room_dbfs: float
    room_by_band_dbfs: tuple[float, ...]
    speech_dbfs: float | None
    snr_db: float | None
    clipped_share: float
    dc_offset: float
    mains_hz: int | None
    hum_dbfs: float
    narrow_band: bool
    gated: bool
    dead: bool
    spoke_early: bool
    heard: str | None
    understood: Understood | None


def calibrate(
    room: Samples, phrase: Samples, expected: str = "", recogniser: Recogniser | None = None
) -> Calibration:
    """Measure a microphone.

    `room`, shape (n,), is what it gives while nobody speaks; `phrase`, shape (m,), what it gives
    right after, while the words `expected` are said once. A recogniser, which must attend to a
    part of the visit in which they can be said, tells whether they are understood.

    Raises DictateError where either is shorter than 1 s.
    """
    for what, sound in (("the room", room), ("the phrase", phrase)):
        if len(sound) < SHORTEST_S * SAMPLE_RATE:
            raise DictateError(
                f"The sound of {what} is shorter than {SHORTEST_S:.0f} s: record more."
            )
    in_room, utterances = _utterances(room, phrase)
    room_power = _powers(room)
    snr_db, active = _signal_to_noise(room_power, _powers(phrase))
    found = bool(utterances) and snr_db is not None
    mains_hz, hum_dbfs = mains_hum(room)
    heard = None if recogniser is None else [_heard(recogniser, each) for each in utterances]
    measured = Calibration(
        verdict="good",
        advice=(),
        room_dbfs=level_dbfs(_centred(room)),
        room_by_band_dbfs=tuple(_decibels(room_power.mean(axis=0)).tolist()),
        speech_dbfs=level_dbfs(_frames(phrase)[active].reshape(-1)) if found else None,
        snr_db=snr_db if found else None,
        clipped_share=clipped_share(phrase),
        dc_offset=float(np.mean(room)) / _FULL_SCALE,
        mains_hz=mains_hz,
        hum_dbfs=hum_dbfs,
        narrow_band=found and upper_band_db(phrase, active) < NARROW_DB,
        gated=_is_dead(room) and not _is_dead(phrase),
        dead=_is_dead(room) and _is_dead(phrase),
        spoke_early=bool(in_room),
        heard=None if heard is None else " ".join(each.text for each in heard),
        understood=None if heard is None else _understood(heard, expected),
    )
    return _judged(measured)


def _judged(measured: Calibration) -> Calibration:
    """Return what was measured with the verdict on it, and what to do."""
    problems = list(_problems(measured))
    verdicts = {at_best for at_best, _ in problems}
    verdict: Verdict = (
        "poor" if "poor" in verdicts else "usable" if "usable" in verdicts else "good"
    )
    return replace(measured, verdict=verdict, advice=tuple(advice for _, advice in problems))


def _problems(measured: Calibration) -> Iterator[tuple[Verdict, str]]:
    """Yield what is wrong: the best verdict that it leaves, and what to do in one sentence."""
    if measured.dead:
        yield (
            "poor",
            "Nothing comes from this microphone: look for its mute switch, its plug, and "
            "the system's leave to record, or choose another one with --microphone.",
        )
        return
    if measured.spoke_early:
        yield (
            "usable",
            "Somebody spoke while the room was measured: start again, and be quiet until the "
            "phrase is asked for.",
        )
    if measured.snr_db is None:
        yield (
            "poor",
            "No speech stands out of the room: say the phrase once it is asked for, closer to "
            "the microphone.",
        )
        return
    yield from _problems_of_sound(measured)
    yield from _problems_of_device(measured)
    if measured.understood == "no":
        heard = f"“{measured.heard}” was heard" if measured.heard else "Nothing was understood"
        yield (
            "poor",
            f"{heard}: say the phrase again, word for word; docs/words.md says how to add a word "
            "for an accent.",
        )
    elif measured.understood == "unsure":
        yield (
            "usable",
            "The phrase was understood, but not surely: say it again, a little slower and closer "
            "to the microphone.",
        )


def _problems_of_sound(measured: Calibration) -> Iterator[tuple[Verdict, str]]:
    """Yield what distance, noise and the input level spoil."""
    assert measured.snr_db is not None and measured.speech_dbfs is not None
    if measured.clipped_share >= CLIPPED_SHARE:
        yield (
            "poor" if measured.clipped_share >= POOR_CLIPPED_SHARE else "usable",
            "The voice is cut off at its loudest: turn the input level down in the system's "
            "sound settings.",
        )
    if measured.speech_dbfs < SOFT_DBFS:
        yield (
            "usable",
            "The voice is soft: turn the input level up in the system's sound settings, or move "
            "the microphone closer.",
        )
    if measured.snr_db < GOOD_SNR_DB:
        yield (
            "usable" if measured.snr_db >= USABLE_SNR_DB else "poor",
            f"The voice is only {measured.snr_db:.0f} dB above the room: move the microphone "
            "closer to the mouth, and turn off or move away what makes noise.",
        )


def _problems_of_device(measured: Calibration) -> Iterator[tuple[Verdict, str]]:
    """Yield what the microphone or its connection spoil."""
    if measured.narrow_band:
        yield (
            "poor",
            "This microphone sends nothing above 4 kHz, as Bluetooth headsets and telephones do: "
            "use a cable, or another microphone.",
        )
    if measured.gated:
        yield (
            "good",
            "The room is silent to the last bit: turn off noise suppression in the system's sound "
            "settings, for it may swallow weak words.",
        )
    if measured.mains_hz is not None and measured.hum_dbfs >= HUM_DBFS:
        yield (
            "good",
            f"The mains hum at {measured.mains_hz} Hz: move the microphone and its cable away "
            "from power supplies and lamps.",
        )
    if abs(measured.dc_offset) >= OFFSET:
        yield (
            "good",
            "The input does not rest at zero: use another socket or sound card, for this one "
            "leaves the voice less room.",
        )


def _frames(samples: Samples) -> Samples:
    """Return the whole frames of samples without their mean, shape (frames, FRAME_SAMPLES)."""
    whole = len(samples) - len(samples) % FRAME_SAMPLES
    return _centred(samples)[:whole].reshape(-1, FRAME_SAMPLES)


def _centred(samples: Samples) -> Samples:
    moved = np.rint(samples - np.mean(samples))
    return np.asarray(np.clip(moved, -32768, 32767), dtype=np.int16)


def _powers(samples: Samples) -> Floats:
    """Return the power in each band of each frame, shape (frames, bands)."""
    levels = BandMeter(FRAME_SAMPLES).levels(_frames(samples))
    return np.asarray(10.0 ** (levels / 10.0), dtype=np.float64)


def _decibels(power: Floats) -> Floats:
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-12)), dtype=np.float64)


def _is_dead(samples: Samples) -> bool:
    """Tell whether samples hold no sound at all, or no more than a last bit that flickers."""
    return int(samples.max()) - int(samples.min()) <= _DEAD_PEAK


def _signal_to_noise(room: Floats, phrase: Floats) -> tuple[float | None, npt.NDArray[np.bool_]]:
    """Return how far speech stands above the room (dB), and which frames it was measured in.

    Speech frames are those within 20 dB of the loudest and 3 dB out of the room, as the active
    speech level of ITU-T P.56 counts no pauses (from memory, simplified). The room's own power is
    taken off theirs. None without such a frame.
    """
    noise = float(room.sum(axis=1).mean())
    total = phrase.sum(axis=1)
    clean = np.maximum(total - noise, 0.0)
    loudest = float(np.convolve(clean, np.full(3, 1 / 3), mode="same").max())
    active = (clean >= loudest * 10 ** (-_ACTIVE_DB / 10)) & (
        total >= noise * 10 ** (_OVER_ROOM_DB / 10)
    )
    if not active.any() or loudest <= 0.0:
        return None, np.zeros(len(total), dtype=bool)
    return float(10.0 * np.log10(clean[active].mean() / max(noise, 1e-12))), active


def clipped_share(samples: Samples) -> float:
    """Return the share (0 to 1) of `samples`, shape (n,), that lie on a flat top.

    A flat top is a run of two or more within 1 % of the highest sample or of the lowest: sound
    may be cut off below full scale, by a limiter or before it is turned down.
    """
    if _is_dead(samples):
        return 0.0
    upwards = _centred(samples).astype(np.float64)
    flat = 0
    for side in (upwards, -upwards):
        top = side >= _NEAR_THE_TOP * side.max()
        beside = top[1:] & top[:-1]
        flat += int(np.count_nonzero(np.append(beside, False) | np.insert(beside, 0, False)))
    return flat / len(samples)


def mains_hum(room: Samples) -> tuple[int | None, float]:
    """Return the mains frequency that hums in `room`, shape (n,), 50 or 60 Hz or None, and the
    level of its first five tones together, in dBFS.

    A tone counts where it stands 15 dB above its surroundings; two tones make a hum.
    """
    window = np.hanning(room.size)
    spectrum = np.abs(np.fft.rfft(_centred(room) / _FULL_SCALE * window)) ** 2
    power = spectrum * 2.0 / (room.size * float(np.sum(window**2)))
    hums = {hz: _tones(power, hz, SAMPLE_RATE / room.size) for hz in (50, 60)}
    mains = max(hums, key=lambda hz: sum(hums[hz]))
    if len(hums[mains]) < _FEWEST_HUM_TONES:
        return None, SILENCE_DBFS
    return mains, max(SILENCE_DBFS, float(10.0 * np.log10(sum(hums[mains]))))


def _tones(power: Floats, mains_hz: int, bin_hz: float) -> list[float]:
    """Return the powers of those multiples of a frequency that stand out as tones."""
    found = []
    for multiple in range(1, _HUM_TONES + 1):
        hz = mains_hz * multiple
        first = round((hz - 1) / bin_hz)
        near = power[first : round((hz + 1) / bin_hz) + 1]
        around = power[round((hz - 9) / bin_hz) : round((hz + 9) / bin_hz)]
        peak = int(np.argmax(near))
        # The mains keep their frequency to a fraction of 1 Hz; a motor near it does not.
        steady = abs((first + peak) * bin_hz - hz) <= bin_hz + _MAINS_DRIFT_HZ * multiple
        floor = max(float(np.median(around)), 1e-14)
        if steady and near[peak] > floor * 10 ** (_HUM_RISE_DB / 10):
            found.append(float(near.sum()))
    return found


def upper_band_db(phrase: Samples, active: npt.NDArray[np.bool_]) -> float:
    """Return how far the strongest sounds of `phrase`, shape (n,), from 4.4 to 7 kHz lie above
    those from 0.3 to 3.4 kHz (dB, mostly below 0): of each, the power that one in twenty frames
    of speech (`active`, shape (frames,)) passes, less what rounding to whole samples adds."""
    window = np.hanning(FRAME_SAMPLES)
    spectrum = np.abs(np.fft.rfft(_frames(phrase)[active] * window, axis=1)) ** 2
    hz = np.fft.rfftfreq(FRAME_SAMPLES, 1 / SAMPLE_RATE)
    rounding = _ROUNDING * float(np.sum(window**2))
    strongest = []
    for low, high in ((4400, 7000), (300, 3400)):
        band = (hz >= low) & (hz <= high)
        power = float(np.percentile(spectrum[:, band].sum(axis=1), 95))
        strongest.append(max(power - rounding * np.count_nonzero(band), 1e-9))
    return 10.0 * math.log10(strongest[0] / strongest[1])


def _utterances(room: Samples, phrase: Samples) -> tuple[list[Samples], list[Samples]]:
    """Return what is cut out as speech, as it would be while charting: what ends within the room,
    and what ends after it."""
    segmenter = Segmenter()
    events = [*segmenter.push(np.concatenate([room, phrase])), *segmenter.flush()]
    spoken = [event.utterance for event in events if isinstance(event, SpeechEnded)]
    room_s = len(room) / SAMPLE_RATE
    early = [each.samples for each in spoken if each.end_s <= room_s]
    return early, [each.samples for each in spoken if each.end_s > room_s]


def _heard(recogniser: Recogniser, utterance: Samples) -> Hypothesis:
    recogniser.start()
    recogniser.feed(utterance)
    return recogniser.finish(utterance)


def _understood(heard: Sequence[Hypothesis], expected: str) -> Understood:
    words = [word for each in heard for word in each.text.split()]
    if words != expected.lower().split() or any(each.trust == "foreign" for each in heard):
        return "no"
    return "yes" if all(each.trust == "sure" for each in heard) else "unsure"
