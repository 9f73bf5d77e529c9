"""Print how well an engine hears, by condition and voice, and how often it charts what nobody said.

    python -m tests.benchmarks.recognition [--engine sphinx] [--part testing] [--sentences 30]
                                           [--conditions "clean" "pink 15 dB" …]

Everything goes the whole way: sound, segmentation, engine, session, chart. Voices, people and
sentences are split in a tuning and a testing part; thresholds and settings were chosen on the
tuning part alone, and only the testing part is worth reporting.

Figures, with 95 % intervals: precision, recall and F1 of findings (tooth, kind, value and site all
right); what was charted, asked about and refused; wrong findings charted without a query per 100
that were said; tooth numbers of recorded people; findings from talk that is not charting, per hour;
processor time per second of sound; memory. How long it takes is printed by tests.benchmarks.delay.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dictate.chart.events import ToothChosen
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.listening.engines import recogniser_maker
from dictate.session.session import Session
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.recogniser import Recogniser
from dictate.speech.segmentation import Segmenter, SpeechEnded
from tests.benchmarks.intervals import most_per_hour, resampled, wilson
from tests.benchmarks.recognition_data.chatter import chatter
from tests.benchmarks.recognition_data.conditions import CONDITIONS, heard_in, set_other_talker
from tests.benchmarks.recognition_data.sentences import PARTS, Part, blank
from tests.benchmarks.recognition_data.speakers import (
    NATURAL,
    Spoken,
    human_tooth_numbers,
    people_here,
    synthetic,
    voices_of,
)
from tests.fixture_replay import FIXTURES, MANIFEST, not_charting

TALK_IN = ("clean", "pink 15 dB", "scaler 15 dB")
NUMBERS_IN = ("clean", "pink 15 dB")


@dataclass(frozen=True)
class Outcome:
    """What became of one sentence: findings wanted, charted, and charted rightly; whether the tooth
    was right; the outcome of its utterances; sound and processor time in s."""

    speaker: str
    wanted: int
    charted: int
    right: int
    tooth_right: bool
    outcome: str
    sound_s: float
    cpu_s: float

    @property
    def wrong(self) -> int:
        return self.charted - self.right


def main() -> None:
    arguments = _arguments()
    set_other_talker(_joined(AudioFile(FIXTURES / row["file"]) for row in MANIFEST["chatter"]))
    try:
        engine = recogniser_maker(arguments.engine, spoken_languages())()
    except DictateError as error:
        print(f"{arguments.engine}: not measured. {error}")
        return
    part: Part = arguments.part
    print(f"engine {arguments.engine}, {part} part; voices {', '.join(voices_of(part)) or 'none'}")
    said = list(synthetic(part, arguments.sentences))
    if said:
        print_conditions(said, engine, arguments.conditions)
    print_people(part, engine, arguments.numbers)
    print_talk(part, engine)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory held, this benchmark's own sound included: {peak_mb:.0f} MB")
    print("how long after the last sound an utterance is charted: python -m tests.benchmarks.delay")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--engine", default="sphinx")
    parser.add_argument("--part", default="testing", choices=PARTS)
    parser.add_argument("--sentences", type=int, default=30, help="for each voice")
    parser.add_argument("--numbers", type=int, default=60, help="for each person")
    parser.add_argument("--conditions", nargs="*", default=list(CONDITIONS))
    return parser.parse_args()


def print_conditions(said: Sequence[Spoken], engine: Recogniser, conditions: list[str]) -> None:
    print(
        f"{'condition':<16}{'voice':<22}{'said':>5}{'F1':>7}{'95 %':>14}{'prec.':>7}{'recall':>7}"
        f"{'wrong/100':>10}{'95 %':>12}{'tooth':>6}{'charted/query/refused':>22}{'cpu':>7}"
    )
    for condition in conditions:
        by_voice: dict[str, list[Outcome]] = defaultdict(list)
        for each in said:
            outcome = hear(each, heard_in(condition, each.samples, each.name), engine)
            by_voice[each.speaker].append(outcome)
        every = [outcome for outcomes in by_voice.values() for outcome in outcomes]
        natural = [each for each in every if each.speaker in NATURAL]
        _print_row(condition, "all voices", every)
        _print_row("", "natural-sounding", natural)
        for voice, outcomes in sorted(by_voice.items()):
            _print_row("", voice, outcomes)


def _print_row(condition: str, voice: str, outcomes: Sequence[Outcome]) -> None:
    if not outcomes:
        return
    wanted = sum(each.wanted for each in outcomes)
    wrong = sum(each.wrong for each in outcomes)
    low, high = resampled(outcomes, f1)
    least, most = (100 * each for each in wilson(min(wrong, wanted), wanted))
    counts = Counter(each.outcome for each in outcomes)
    shares = "/".join(f"{counts[name]}" for name in ("charted", "query", "refused"))
    cpu = sum(each.cpu_s for each in outcomes) / sum(each.sound_s for each in outcomes)
    teeth = sum(each.tooth_right for each in outcomes) / len(outcomes)
    print(
        f"{condition:<16}{voice:<22}{wanted:>5}{f1(outcomes):>7.3f}{f'{low:.3f}-{high:.3f}':>14}"
        f"{precision(outcomes):>7.3f}{recall(outcomes):>7.3f}{100 * wrong / wanted:>10.2f}"
        f"{f'{least:.1f}-{most:.1f}':>12}{100 * teeth:>5.0f}%{shares:>22}{cpu:>7.3f}",
        flush=True,
    )


def precision(outcomes: Sequence[Outcome]) -> float:
    charted = sum(each.charted for each in outcomes)
    return sum(each.right for each in outcomes) / charted if charted else 1.0


def recall(outcomes: Sequence[Outcome]) -> float:
    wanted = sum(each.wanted for each in outcomes)
    return sum(each.right for each in outcomes) / wanted if wanted else 1.0


def f1(outcomes: Sequence[Outcome]) -> float:
    exact, found = precision(outcomes), recall(outcomes)
    return 2 * exact * found / (exact + found) if exact + found else 0.0


def hear(said: Spoken, sound: Samples, engine: Recogniser) -> Outcome:
    """Return what becomes of a sentence that is heard in an empty mouth."""
    session = blank(said.sentence.species)
    began = time.process_time()
    _listen(sound, engine, session)
    cpu_s = time.process_time() - began
    got = [each.model_dump() for each in session.chart.findings]
    wanted = said.sentence.findings
    outcomes = [event.what.outcome for event in session.heard]  # type: ignore[union-attr]
    return Outcome(
        speaker=said.speaker,
        wanted=len(wanted),
        charted=len(got),
        right=sum(each in wanted for each in got),
        tooth_right={each["tooth"] for each in got} == {each["tooth"] for each in wanted},
        outcome=_together(outcomes),
        sound_s=len(sound) / SAMPLE_RATE,
        cpu_s=cpu_s,
    )


def _together(outcomes: Sequence[str]) -> str:
    if "query" in outcomes:
        return "query"
    return "charted" if outcomes and set(outcomes) == {"charted"} else "refused"


def _listen(sound: Samples, engine: Recogniser, session: Session) -> None:
    segmenter = Segmenter()
    for event in (*segmenter.push(sound), *segmenter.flush()):
        if isinstance(event, SpeechEnded):
            engine.attend(session.listening_for)
            session.hear(engine.finish(event.utterance.samples), event.utterance)


def print_people(part: Part, engine: Recogniser, count: int) -> None:
    if not people_here(part):
        print("../shared/human_digits is not here: recorded people are not measured")
        return
    print(
        f"{'tooth numbers':<16}{'person':<22}{'said':>5}{'right':>7}{'95 %':>12}{'asked':>7}"
        f"{'wrong':>7}{'lost':>6}{'right or asked':>15}"
    )
    numbers = list(human_tooth_numbers(part, count))
    for condition in NUMBERS_IN:
        tallies: dict[str, Counter[str]] = defaultdict(Counter)
        for each in numbers:
            session = blank("dog")
            _listen(heard_in(condition, each.samples, each.name), engine, session)
            for speaker in (each.speaker, "all people"):
                tallies[speaker][_tooth_number(each, session)] += 1
        for speaker, tally in sorted(tallies.items()):
            total = tally.total()
            low, high = (100 * each for each in wilson(tally["right"], total))
            safe = 100 * (tally["right"] + tally["asked"]) / total
            print(
                f"{condition:<16}{speaker:<22}{total:>5}{100 * tally['right'] / total:>6.0f}%"
                f"{f'{low:.0f}-{high:.0f} %':>12}{tally['asked']:>7}{tally['wrong']:>7}"
                f"{tally['lost']:>6}{safe:>14.0f}%",
                flush=True,
            )


def _tooth_number(said: Spoken, session: Session) -> str:
    """Return "right" where the tooth that was said is in hand and nothing else came of it, "asked"
    where a question is open, "wrong" where anything else was done, else "lost"."""
    chosen = [event.what.tooth for event in session.events if isinstance(event.what, ToothChosen)]
    wanted = _number(said.sentence.text)
    if session.chart.findings or any(tooth != wanted for tooth in chosen):
        return "wrong"
    if chosen:
        return "right"
    return "asked" if session.doubts else "lost"


def _number(text: str) -> int:
    digits = "zero one two three four five six seven eight nine".split()
    return int("".join(str(digits.index(word)) for word in text.split()))


def print_talk(part: Part, engine: Recogniser) -> None:
    print(
        f"{'not charting':<34}{'minutes':>8}{'findings':>9}{'per hour':>9}{'at most':>8}"
        f"{'queries':>8}{'commands':>9}"
    )
    sources: list[tuple[str, Callable[[], Iterator[Samples]]]] = [
        (
            "fixtures and room speech",
            lambda: (_joined([AudioFile(path)], 32768).astype(np.int16) for path in not_charting()),
        ),
    ]
    for condition in TALK_IN:
        sources.append(
            (
                f"talk, {condition}",
                lambda name=condition: (
                    heard_in(name, sound, text) for text, sound in chatter(part)
                ),
            )
        )
    findings_in_all, hours_in_all = 0, 0.0
    for name, sounds in sources:
        counts: Counter[str] = Counter()
        for sound in sounds():
            session = blank("dog")
            session.type_text("one oh four")
            _listen(sound, engine, session)
            counts["samples"] += len(sound)
            counts["findings"] += len(session.chart.findings)
            counts["queries"] += len(session.doubts)
            counts["commands"] += _commands(session)
        hours = counts["samples"] / SAMPLE_RATE / 3600
        findings_in_all, hours_in_all = findings_in_all + counts["findings"], hours_in_all + hours
        _print_talk(name, counts, hours)
    most = most_per_hour(findings_in_all, hours_in_all)
    print(
        f"in all {findings_in_all} findings in {60 * hours_in_all:.0f} minutes, "
        f"at most {most:.1f} an hour"
    )


def _commands(session: Session) -> int:
    """Return how many utterances were taken for something that is no finding."""
    charted = [event for event in session.heard[1:] if event.what.outcome == "charted"]  # type: ignore[union-attr]
    return len(charted)


def _print_talk(name: str, counts: Counter[str], hours: float) -> None:
    if hours:
        rate, most = counts["findings"] / hours, most_per_hour(counts["findings"], hours)
        print(
            f"{name:<34}{60 * hours:>8.1f}{counts['findings']:>9}{rate:>9.1f}{most:>8.1f}"
            f"{counts['queries']:>8}{counts['commands']:>9}",
            flush=True,
        )


def _joined(files: Iterable[Any], scale: float = 1.0) -> Any:
    blocks = [block for file in files for block in file.blocks()]
    return np.concatenate(blocks).astype(np.float64) / 32768 * scale


if __name__ == "__main__":
    main()
