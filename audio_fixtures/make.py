"""Make every audio file of this folder, and manifest.json, from the tables beside it.

Run `python -m audio_fixtures.make` in the folder above. It needs flite, festival (with the voices
kal_diphone and cmu_us_slt_arctic_hts) and espeak-ng, takes about a minute, and gives the same
files every time. Files of sentences that are no longer in the tables are deleted.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from audio_fixtures import noises, sound, texts
from audio_fixtures.texts import HERE, Dictation, Said, Visit
from audio_fixtures.voices import SAMPLE_RATE, VOICES, say, voices_here

LEAD_S = 0.3
TAIL_S = 0.4
PAUSE_S = (0.9, 1.3)
"""Shortest and longest silence between the utterances of a dictation or a visit."""
CHATTER_VOICE = "flite_rms"
"""Who says chatter for which the table names no voice."""

Entry = dict[str, Any]
"""What the manifest says of one file."""

_NOISES: dict[str, Callable[[float, np.random.Generator], sound.Sound]] = {
    "silence": noises.room_floor,
    "pink": noises.pink_noise,
    "scaler": noises.scaler,
}
_NOISE_S = 6.0


def main() -> int:
    """Make all, and return the exit code."""
    missing = sorted(set(VOICES) - set(voices_here()))
    if missing:
        print(f"Install flite, festival and espeak-ng; voices missing: {', '.join(missing)}.")
        return 1
    manifest = {
        "sentences": _in_parallel(_sentence_clip, _sentence_speakers()),
        "commands": _in_parallel(_command_clip, _command_speakers()),
        "chatter": _in_parallel(_chatter_clip, texts.chatter()),
        "noise": [_noise_clip(name) for name in _NOISES],
        "dictations": [
            _dictation_file(texts.dictation(name)) for name in ("whole_mouth", "whole_mouth_cat")
        ],
        "visits": [_visit_file(texts.visit(name)) for name in texts.VISITS],
    }
    (HERE / "manifest.json").write_text(_one_entry_a_line(manifest), encoding="utf-8")
    _delete_others(manifest)
    return 0


def _sentence_speakers() -> list[tuple[str, Said]]:
    """Return who says what: a voice with share n says every n-th sentence, each voice of the
    same share starting at another one."""
    speakers = []
    for start, (voice, share) in enumerate(texts.shares().items()):
        speakers += [
            (voice, said)
            for number, said in enumerate(texts.sentences())
            if (number + start) % share == 0
        ]
    return speakers


def _command_speakers() -> list[tuple[str, Said]]:
    commands, voices = texts.commands()
    return [(voice, said) for voice in voices for said in commands]


def _sentence_clip(speaker: tuple[str, Said]) -> Entry:
    voice, said = speaker
    file = _clip(f"sentences/{voice}/{said.id}.flac", voice, said)
    entry = {"file": file, "id": said.id, "voice": voice, "species": said.species}
    return entry | {"text": said.words, "findings": said.findings}


def _command_clip(speaker: tuple[str, Said]) -> Entry:
    voice, said = speaker
    file = _clip(f"commands/{voice}/{said.id}.flac", voice, said)
    entry = {"file": file, "id": said.id, "voice": voice, "text": said.words}
    return entry | {"command": said.command, "findings": said.findings}


def _chatter_clip(said: Said) -> Entry:
    voice = said.voice or CHATTER_VOICE
    file = _clip(f"chatter/{said.id}.flac", voice, said)
    return {"file": file, "id": said.id, "voice": voice, "text": said.text, "findings": ()}


def _clip(file: str, voice: str, said: Said) -> str:
    random = sound.generator(file)
    spoken = sound.speech(say(voice, said.spoken_by(voice)), random)
    parts = [sound.silence(LEAD_S), spoken, sound.silence(TAIL_S)]
    sound.write_flac(HERE / file, sound.in_a_room(np.concatenate(parts), random))
    return file


def _noise_clip(name: str) -> Entry:
    file = f"noise/{name}.flac"
    sound.write_flac(HERE / file, _NOISES[name](_NOISE_S, sound.generator(file)))
    return {"file": file, "id": name, "findings": ()}


def _dictation_file(dictation: Dictation) -> Entry:
    file = f"{dictation.folder.name}/dictation.flac"
    rows = [
        row | {"command": said.command, "findings": said.findings}
        for row, said in zip(_one_file(file, dictation), dictation.utterances, strict=True)
    ]
    entry = {"file": file, "species": dictation.species, "voice": dictation.voice}
    return entry | {"utterances": rows, "chart": dictation.chart()}


def _visit_file(visit: Visit) -> Entry:
    file = f"{visit.folder.name}/visit.flac"
    rows = [
        row | {"outcome": said.outcome, "answer": said.answer}
        for row, said in zip(_one_file(file, visit), visit.utterances, strict=True)
    ]
    entry = {"file": file, "id": visit.folder.name, "species": visit.species}
    return entry | {"voice": visit.voice, "utterances": rows}


def _one_file(file: str, dictation: Dictation | Visit) -> list[Entry]:
    """Write all utterances as one file, and return when each begins and ends, and who says it."""
    random = sound.generator(file)
    voices = [said.voice or dictation.voice for said in dictation.utterances]
    spoken = _in_parallel(
        lambda pair: say(pair[0], pair[1].spoken_by(pair[0])),
        zip(voices, dictation.utterances, strict=True),
    )
    parts, rows = [sound.silence(PAUSE_S[0])], []
    for voice, said, samples in zip(voices, dictation.utterances, spoken, strict=True):
        start_s = sum(map(len, parts)) / SAMPLE_RATE
        parts.append(sound.speech(samples, random))
        end_s = sum(map(len, parts)) / SAMPLE_RATE
        parts.append(sound.silence(random.uniform(*PAUSE_S)))
        times = {"start_s": round(start_s, 2), "end_s": round(end_s, 2)}
        chatter = voice != dictation.voice
        rows.append(times | {"text": said.words, "voice": voice, "chatter": chatter})
    sound.write_flac(HERE / file, sound.in_a_room(np.concatenate(parts), random))
    return rows


def _in_parallel(make: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
    with ThreadPoolExecutor() as pool:
        return list(pool.map(make, items))


def _one_entry_a_line(manifest: dict[str, list[Entry]]) -> str:
    sections = [
        f'"{name}": [\n' + ",\n".join(json.dumps(entry) for entry in entries) + "\n]"
        for name, entries in manifest.items()
    ]
    return "{\n" + ",\n".join(sections) + "\n}\n"


def _delete_others(manifest: dict[str, list[Entry]]) -> None:
    made = {HERE / entry["file"] for entries in manifest.values() for entry in entries}
    for folder in {Path(file.relative_to(HERE).parts[0]) for file in made}:
        for file in (HERE / folder).rglob("*.flac"):
            if file not in made:
                file.unlink()


if __name__ == "__main__":
    sys.exit(main())
