"""Print what the parts of a visit cost and buy: parsing time, and recognition with small grammars.

    python -m tests.benchmarks.visit_language [--before FOLDER]

Figures: words and arcs of each context and of all of them in one; time to read an utterance, spoken
and typed; sentences of every context, by synthetic voices of this machine, heard with the context's
own grammar and with all in one, side by side; findings from clips that are not charting, in every
context. `--before` names a folder of older grammar files (`git archive REVISION grammars | tar x`):
the charting fixtures are then heard with those too, side by side.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import tempfile
import time
from collections import Counter
from pathlib import Path
from random import Random

import numpy as np

from audio_fixtures.voices import say, voices_here
from dictate.grammar.sample import sentence
from dictate.grammar.spoken import CHARTING, SpokenLanguages, grammars_folder, spoken_languages
from dictate.phrases.reading import read_typed, read_utterance
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.segmentation import utterances
from dictate.speech.sphinx import SphinxRecogniser
from tests.fixture_replay import CHARTING_VOICES, FIXTURES, MANIFEST, not_charting

EVERYTHING = "everything"
SENTENCES_A_CONTEXT = 40
READINGS = 1500
LEVEL = 0.1
ROOM_DBFS = -64
LIMIT_MS = 2.0


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--before", type=Path, help="a folder of older grammar files")
    before: Path | None = arguments.parse_args().before
    languages = spoken_languages()
    with tempfile.TemporaryDirectory() as folder:
        joined = all_in_one(Path(folder))
        print_sizes(languages, joined)
        print_reading_times(languages)
        print_recognition(languages, joined)
    print_not_charting(languages)
    if before is not None:
        print_before_and_after(before)


def all_in_one(folder: Path) -> SpokenLanguages:
    """Return the language that allows what any context allows."""
    contexts = spoken_languages().contexts
    shutil.copytree(grammars_folder(), folder, dirs_exist_ok=True)
    for context in contexts:
        text = (folder / f"{context}.jsgf").read_text(encoding="utf-8")
        text = text.replace("public <utterance>", f"public <{context}_utterance>")
        (folder / f"{context}.jsgf").write_text(text, encoding="utf-8")
    imports = "".join(f"import <{each}.{each}_utterance>;\n" for each in contexts)
    choice = " | ".join(f"<{each}_utterance>" for each in contexts)
    (folder / f"{EVERYTHING}.jsgf").write_text(
        f"#JSGF V1.0;\ngrammar {EVERYTHING};\n{imports}public <utterance> = {choice};\n"
    )
    return SpokenLanguages(folder, (EVERYTHING,))


def print_sizes(languages: SpokenLanguages, joined: SpokenLanguages) -> None:
    print(f"{'context':<14}{'words':>7}{'arcs':>8}")
    for context in languages.contexts:
        language = languages[context]
        print(f"{context:<14}{len(language.words):>7}{len(language.graph.arcs):>8}")
    together = joined[EVERYTHING]
    print(f"{'all in one':<14}{len(together.words):>7}{len(together.graph.arcs):>8}")


def print_reading_times(languages: SpokenLanguages) -> None:
    print(f"{'reading, ms':<14}{'mean':>7}{'95 %':>8}{'most':>8}{'share of 2 ms, mean':>22}")
    for context in languages.contexts:
        language = languages[context]
        texts = [sentence(language.rules, language.root, Random(n)) for n in range(READINGS)]
        order = languages.beginning_with(context)
        for how in ("spoken", "typed"):
            times = []
            for text in texts:
                began = time.perf_counter()
                read_utterance(language, text) if how == "spoken" else read_typed(order, text)
                times.append(1000 * (time.perf_counter() - began))
            mean, high = statistics.mean(times), float(np.percentile(times, 95))
            row = f"{context[:7]} {how}"
            share = f"{100 * mean / LIMIT_MS:.0f} %"
            print(f"{row:<14}{mean:>7.2f}{high:>8.2f}{max(times):>8.2f}{share:>22}")


def print_recognition(languages: SpokenLanguages, joined: SpokenLanguages) -> None:
    voices = [voice for voice in voices_here() if voice.startswith(CHARTING_VOICES)]
    if not voices:
        print("no synthetic voice on this machine: recognition by context not measured")
        return
    own, every = SphinxRecogniser(languages), SphinxRecogniser(joined)
    every.attend(EVERYTHING)
    print(f"{'sentences heard':<14}{'n':>7}{'own: right, sure':>20}{'all in one':>14}")
    for context in languages.contexts:
        own.attend(context)
        tally: Counter[str] = Counter()
        for number in range(SENTENCES_A_CONTEXT):
            random = Random(f"{context} {number}")
            text = sentence(languages[context].rules, languages[context].root, random, 0.3)
            samples = spoken(random.choice(voices), text) if text else None
            for name, engine in (("own", own), ("all", every)):
                if samples is not None:
                    hypothesis = engine.finish(samples)
                    right = means_the_same(languages, context, hypothesis.text, text)
                    tally[f"{name} right"] += right
                    tally[f"{name} sure"] += right and hypothesis.trust == "sure"
                    tally[f"{name} wrong"] += not right and hypothesis.trust == "sure"
            tally["n"] += samples is not None
        print(
            f"{context:<14}{tally['n']:>8}"
            f"{tally['own right']:>10} ({tally['own sure']}), wrong {tally['own wrong']}"
            f"{tally['all right']:>10} ({tally['all sure']}), wrong {tally['all wrong']}"
        )


def means_the_same(languages: SpokenLanguages, context: str, heard: str, said: str) -> bool:
    """Return whether two texts make the same statements: “the” may be there or not."""
    language = languages[context]
    return read_utterance(language, heard).statements == read_utterance(language, said).statements


def spoken(voice: str, text: str) -> Samples:
    """Return a text as a voice says it, at -20 dBFS in a quiet room."""
    speech = np.asarray(say(voice, text), dtype=np.float64)
    speech *= LEVEL * 32768 / (np.sqrt((speech**2).mean()) + 1e-9)
    pause = np.zeros(int(0.3 * SAMPLE_RATE))
    sound = np.concatenate([pause, speech, pause])
    sound += np.random.default_rng(1).normal(0, 32768 * 10 ** (ROOM_DBFS / 20), len(sound))
    return np.clip(sound, -32767, 32767).astype(np.int16)


def print_not_charting(languages: SpokenLanguages) -> None:
    engine = SphinxRecogniser(languages)
    clips = [list(utterances(AudioFile(path))) for path in not_charting()]
    print(f"{'not charting':<14}{'clips':>7}{'sure':>8}{'doubtful':>10}")
    for context in languages.contexts:
        engine.attend(context)
        heard = [engine.finish(each.samples) for clip in clips for each in clip]
        trust = Counter(each.trust for each in heard if each.text)
        print(f"{context:<14}{len(clips):>7}{trust['sure']:>8}{trust['doubtful']:>10}")


def print_before_and_after(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        joined = Path(scratch)
        shutil.copytree(folder, joined, dirs_exist_ok=True)
        for file in grammars_folder().glob("*.txt"):  # word lists that did not exist then
            if not (joined / file.name).exists():
                shutil.copy(file, joined)
        compare(SpokenLanguages(joined, (CHARTING,)))


def compare(older: SpokenLanguages) -> None:
    engines = {"before": SphinxRecogniser(older), "after": SphinxRecogniser(spoken_languages())}
    words = {"before": len(older.words), "after": len(spoken_languages().words)}
    print(f"words that can be said: before {words['before']}, after {words['after']}")
    print(f"{'voice':<22}{'n':>5}{'before: right, sure':>22}{'after':>14}")
    tallies: dict[str, Counter[str]] = {}
    for row in MANIFEST["sentences"]:
        tally = tallies.setdefault(row["voice"], Counter())
        for audio in utterances(AudioFile(FIXTURES / row["file"])):
            said = row["text"].replace(",", "")
            tally["n"] += 1
            for name, engine in engines.items():
                hypothesis = engine.finish(audio.samples)
                right = means_the_same(spoken_languages(), CHARTING, hypothesis.text, said)
                tally[f"{name} right"] += right
                tally[f"{name} sure"] += right and hypothesis.trust == "sure"
    for voice, tally in sorted(tallies.items()):
        print(
            f"{voice:<22}{tally['n']:>5}{tally['before right']:>15} ({tally['before sure']})"
            f"{tally['after right']:>10} ({tally['after sure']})"
        )


if __name__ == "__main__":
    main()
