"""Print what a voice of one's own is worth: for people who say tooth numbers, for synthetic voices,
and for what is not charting.

    python -m tests.benchmarks.enrolment [--people abc] [--voices flite_slt …]

People: three of ../shared/human_digits. Digits are joined to tooth numbers of the dog; takes 0 to
9 are for enrolment (20 numbers), takes 10 to 19 for the test (two of each tooth). Each line says
how many were right and sure, wrong and sure, a query, or refused, with Wilson's 95 % interval.
Synthetic voices read the phrases of `dictate voice enrol`, and are tested on the sentences of
audio_fixtures.
"""

from __future__ import annotations

import argparse
import tempfile
import time
import zlib
from collections import Counter
from pathlib import Path

import numpy as np
import soundfile
import soxr

from audio_fixtures.sound import SPEECH_DBFS, at_level, in_a_room, silence
from audio_fixtures.voices import voices_here
from dictate.chart.anatomy import anatomy_of
from dictate.commands.voice import recogniser_of
from dictate.enrolment.adapt import adapt
from dictate.enrolment.enrol import EnrolmentError, Reading, enrol
from dictate.enrolment.phrases import enrolment_phrases
from dictate.enrolment.voice import Gain
from dictate.grammar.spoken import CHARTING, spoken_languages
from dictate.phrases.reading import read_utterance
from dictate.speech.audio import SAMPLE_RATE
from dictate.speech.transform import Transform, mllr_text
from tests.benchmarks.intervals import wilson
from tests.benchmarks.visit_language import spoken
from tests.fixture_replay import SHARED, findings_of, not_charting, play, sentences_by_voice

DIGITS = "zero one two three four five six seven eight nine".split()
PEOPLE = "abc"
ENROLLED = 20
TESTS_OF_A_TOOTH = 2
PAUSE_S = 0.3
BETWEEN_S = (0.05, 0.15)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", default=PEOPLE)
    parser.add_argument("--voices", nargs="*", default=voices_here())
    arguments = parser.parse_args()
    print("no voice")
    print_chatter(None)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        if (SHARED / "human_digits").is_dir():
            for person in arguments.people:
                print_person(person, folder)
        else:
            print("../shared/human_digits is not here: people are not measured")
        for voice in arguments.voices:
            print_voice(voice, folder)


def tooth_readings(person: str, takes: range, teeth: list[int], name: str) -> list[Reading]:
    """Tooth numbers as a person says them, each digit from a take of these."""
    random = np.random.default_rng(zlib.crc32(f"{name} {person}".encode()))
    return [said(person, takes, tooth, random) for tooth in teeth]


def said(person: str, takes: range, tooth: int, random: np.random.Generator) -> Reading:
    digits = [int(digit) for digit in str(tooth)]
    parts = []
    for place, digit in enumerate(digits):
        if place:
            parts.append(silence(random.uniform(*BETWEEN_S)))
        take = random.choice(takes)
        path = SHARED / "human_digits" / f"{digit}_{person}_{take}.wav"
        clip, rate = soundfile.read(path, dtype="float64")
        parts.append(soxr.resample(clip, rate, SAMPLE_RATE))
    speech = at_level(np.concatenate(parts), SPEECH_DBFS)
    sound = in_a_room(np.concatenate([silence(PAUSE_S), speech, silence(PAUSE_S)]), random)
    samples = np.clip(np.round(sound * 32768), -32767, 32767).astype(np.int16)
    return Reading(CHARTING, " ".join(DIGITS[digit] for digit in digits), samples)


def teeth_of_the_dog() -> list[int]:
    return sorted(anatomy_of("dog").permanent_teeth)


def print_person(person: str, folder: Path) -> None:
    teeth = teeth_of_the_dog()
    order = np.random.default_rng(zlib.crc32(person.encode())).permutation(teeth).tolist()
    enrolled = tooth_readings(person, range(10), order[:ENROLLED], "enrolment")
    tests = tooth_readings(person, range(10, 20), teeth * TESTS_OF_A_TOOTH, "test")
    print(f"person {person}: {len(tests)} tooth numbers")
    print_counts("  before", outcomes(tests, None), len(tests))
    mllr = print_enrolment(enrolled, folder / f"{person}.mllr")
    print_counts("  after", outcomes(tests, mllr), len(tests))
    print_chatter(mllr)


def print_voice(voice: str, folder: Path) -> None:
    phrases = enrolment_phrases(spoken_languages())
    readings = [Reading(each.context, each.text, spoken(voice, each.text)) for each in phrases]
    seconds = sum(len(each.samples) for each in readings) / SAMPLE_RATE
    print(f"{voice}: {len(readings)} phrases in {seconds:.0f} s")
    mllr = print_enrolment(readings, folder / f"{voice}.mllr")
    for when, path in (("before", None), ("after", mllr)):
        engine = recogniser_of(spoken_languages())(path)
        tally = sentences_by_voice(engine, voice.__eq__)[voice]
        print(f"  {when}: {tally.right} of {tally.wanted} findings right, {tally.wrong} wrong")
    print_chatter(mllr)


def print_enrolment(readings: list[Reading], path: Path) -> Path:
    """Enrol, print what came of it, and return the transform, be it kept or refused."""
    languages = spoken_languages()
    began = time.process_time()
    gain: Gain | None
    try:
        done = enrol(languages, readings, recogniser_of(languages))
        gain, verdict = done.gain, "kept"
        transform: Transform | None = done.transform
    except EnrolmentError as refusal:
        gain, verdict = refusal.gain, "refused" if refusal.gain else str(refusal)
        transform = adapt(languages, [(each.text, each.samples) for each in readings])
    print(f"  {verdict} after {time.process_time() - began:.0f} s of processor time: {gain}")
    if transform is None:
        raise SystemExit("nothing could be aligned")
    path.write_text(mllr_text(transform), encoding="ascii")
    return path


def outcomes(tests: list[Reading], mllr: Path | None) -> Counter[str]:
    engine = recogniser_of(spoken_languages())(mllr)
    language = spoken_languages()[CHARTING]
    counts: Counter[str] = Counter()
    for each in tests:
        hypothesis = engine.finish(each.samples)
        meant = read_utterance(language, each.text).statements
        right = read_utterance(language, hypothesis.text).statements == meant
        if hypothesis.trust == "sure":
            counts["right" if right else "wrong and sure"] += 1
        else:
            counts["query" if hypothesis.trust == "doubtful" else "refused"] += 1
            counts["query, right"] += right and hypothesis.trust == "doubtful"
    return counts


def print_counts(what: str, counts: Counter[str], total: int) -> None:
    for name in ("right", "wrong and sure", "query", "query, right", "refused"):
        low, high = wilson(counts[name], total)
        share = f"{100 * counts[name] / total:.0f} % ({100 * low:.0f}-{100 * high:.0f})"
        print(f"{what}, {name}: {counts[name]} of {total}, {share}")


def print_chatter(mllr: Path | None) -> None:
    engine = recogniser_of(spoken_languages())(mllr)
    clips = list(not_charting())
    played = [play([path], engine) for path in clips]
    findings = sum(len(findings_of(session)) for session, _ in played)
    queries = sum(heard.outcome == "query" for _, result in played for heard in result.heard)
    print(f"  {len(clips)} clips not charting: {findings} findings, {queries} queries")


if __name__ == "__main__":
    main()
