"""The command that measures a microphone: dictate calibrate."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from dictate import terminal
from dictate.commands.options import MicrophoneOption
from dictate.errors import DictateError
from dictate.settings import read_settings
from dictate.speech.audio import SAMPLE_RATE, AudioSource, Samples
from dictate.speech.calibration import ROOM_S, Calibration
from dictate.speech.calibration import calibrate as measured
from dictate.speech.level import BAND_EDGES_HZ
from dictate.speech.segmentation import Segmenter, SpeechEnded

PHRASE = "two oh eight calculus two pocket five"
"""What is asked for: digits, a term of the trade, and the sharp sounds that narrow bands lose."""

LONGEST_PHRASE_S = 10.0
"""How long (s) the phrase is waited for."""

SETTLING_S = 0.3
"""The first sound (s) of a microphone, which may click, is not measured."""


def calibrate(
    microphone: MicrophoneOption = None,
    file: Annotated[
        Path | None, typer.Option("--file", help="A recording of the room; with --phrase.")
    ] = None,
    phrase: Annotated[
        Path | None, typer.Option("--phrase", help="A recording of the phrase, said once.")
    ] = None,
    say: Annotated[str, typer.Option("--say", help="The phrase, in words.")] = PHRASE,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Measure a microphone: two seconds of the room, then one phrase; exit code 1 where poor."""
    from dictate.grammar.spoken import CHARTING, spoken_languages
    from dictate.listening.engines import recogniser_maker

    languages = spoken_languages()
    words = " ".join(say.lower().split())
    if not words or not languages[CHARTING].allows(words.split()):
        raise DictateError(
            f"“{say}” cannot be said while charting: choose a phrase of "
            "docs/spoken_phrases.md, in words."
        )
    if (file is None) != (phrase is None):
        raise DictateError("Give both recordings: --file of the room and --phrase of the phrase.")
    recogniser = recogniser_maker("auto", languages)()
    recogniser.attend(CHARTING)
    if file is not None and phrase is not None:
        room, spoken = _read(file), _read(phrase)
    else:
        room, spoken = _recorded(microphone, words)
    found = measured(room, spoken, words, recogniser)
    if as_json:
        terminal.say_json({"phrase": words} | as_data(found))
    else:
        for line in lines_of(found, words):
            terminal.say(line)
    if found.verdict == "poor":
        raise typer.Exit(1)


def _read(path: Path) -> Samples:
    from dictate.speech.audio_file import AudioFile

    return np.concatenate([np.zeros(0, np.int16), *AudioFile(path).blocks()])


def _recorded(microphone: str | None, phrase: str) -> tuple[Samples, Samples]:
    from dictate.speech.microphone import Microphone

    source = Microphone(microphone or read_settings().speech.microphone or None)
    try:
        return record(source, phrase)
    finally:
        source.stop()


def record(source: AudioSource, phrase: str) -> tuple[Samples, Samples]:
    """Return two seconds of the room and what is said after, both of shape (n,), asking on stderr
    for quiet and for the phrase.

    The phrase is over with its first utterance, or after 10 s. Raises DictateError where the
    source ends before the room is measured, and whatever `source.blocks()` raises.
    """
    blocks = source.blocks()
    terminal.say(f"{source.name}: say nothing for {ROOM_S:.0f} seconds …", sys.stderr)
    settling = round(SETTLING_S * SAMPLE_RATE)
    wanted = settling + round(ROOM_S * SAMPLE_RATE)
    heard = _taken(blocks, wanted)
    if len(heard) < wanted:
        raise DictateError(f"{source.name} has stopped: plug it in and start again.")
    terminal.say(f"Now say: “{phrase}”.", sys.stderr)
    room = heard[settling:wanted]
    return room, _phrase(blocks, room, heard[wanted:])


def _taken(blocks: Iterator[Samples], wanted: int) -> Samples:
    """Return at least as many samples as are wanted, where there are so many."""
    taken = np.zeros(0, np.int16)
    for block in blocks:
        taken = np.concatenate([taken, block])
        if len(taken) >= wanted:
            break
    return taken


def _phrase(blocks: Iterator[Samples], room: Samples, begun: Samples) -> Samples:
    """Return the sound up to the end of its first utterance; `begun` is the first of it."""
    segmenter = Segmenter()
    segmenter.push(room)
    phrase = begun
    fresh = begun
    while len(phrase) < LONGEST_PHRASE_S * SAMPLE_RATE:
        if any(isinstance(event, SpeechEnded) for event in segmenter.push(fresh)):
            break
        following = next(blocks, None)
        if following is None:
            break
        fresh = following
        phrase = np.concatenate([phrase, fresh])
    return phrase


def as_data(found: Calibration) -> dict[str, Any]:
    """Return what was measured as the plain data that --json prints: levels to 0.1 dB."""
    data = asdict(found)
    for name, value in data.items():
        if name.endswith(("dbfs", "db")) and value is not None:
            data[name] = (
                [round(v, 1) for v in value] if isinstance(value, tuple) else round(value, 1)
            )
    for name in ("clipped_share", "dc_offset"):
        data[name] = round(data[name], 5)
    return data


def lines_of(found: Calibration, phrase: str) -> Iterator[str]:
    """Yield what was measured, what it comes to, and what to do, a line each."""
    yield f"Room: {found.room_dbfs:.0f} dBFS; by band: {_bands(found)}."
    if found.speech_dbfs is None or found.snr_db is None:
        yield "Speech: none found."
    else:
        yield f"Speech: {found.speech_dbfs:.0f} dBFS, {found.snr_db:.0f} dB above the room."
        band = "nothing above 4 kHz" if found.narrow_band else "sound above 4 kHz too"
        yield f"Voice: {found.clipped_share:.2%} of it is cut off; {band}."
    hum = f"at {found.hum_dbfs:.0f} dBFS, {found.mains_hz} Hz" if found.mains_hz else "none"
    yield f"Hum of the mains: {hum}; rests at {found.dc_offset:.1%} of full scale."
    if found.understood is not None:
        yield f"Phrase: “{phrase}” was heard as “{found.heard}”."
    yield f"Verdict: {found.verdict}."
    yield from found.advice


def _bands(found: Calibration) -> str:
    edges = zip(BAND_EDGES_HZ[:-1], BAND_EDGES_HZ[1:], found.room_by_band_dbfs, strict=True)
    return ", ".join(f"{low}-{high} Hz {level:.0f}" for low, high, level in edges)
