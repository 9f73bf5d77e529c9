"""The speech engine in a process of its own: it dies, hangs and fails, and nothing is lost."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread

import numpy as np
import pytest

from dictate.errors import DictateError
from dictate.listening.engines import EngineMaker
from dictate.listening.listener import (
    EngineEnded,
    Listener,
    ListeningEvent,
    Stopped,
    Undecoded,
    Understood,
)
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.engine_process import EngineProcess, Patience, _Engine
from dictate.speech.recogniser import Hypothesis, NotDecodedError, Recogniser
from dictate.speech.segmentation import utterances
from tests.failing_engine import SOUND, Fake, Making, dies_at_once, heard, says_nothing
from tests.fixture_replay import FIXTURES

OTHER = SOUND[:800]
IMPATIENT = Patience(to_load_s=60.0, to_answer_s=2.0, for_each_s=0.0)


@pytest.fixture
def ended() -> list[str]:
    return []


@pytest.fixture
def engine(tmp_path: Path, ended: list[str]) -> Iterator[Callable[..., EngineProcess]]:
    made: list[EngineProcess] = []

    def make(**failing: int | bool) -> EngineProcess:
        fake = Fake(tmp_path, **failing)
        made.append(EngineProcess(Making(fake), lambda: ended.append("ended"), IMPATIENT))
        return made[-1]

    yield make
    for each in made:
        each.close()


def is_running(process_id: int) -> bool:
    try:
        state = Path(f"/proc/{process_id}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state not in "ZX"


def wait_until(true: Callable[[], bool], at_most_s: float = 10.0) -> None:
    until = time.monotonic() + at_most_s
    while not true():
        assert time.monotonic() < until, "it took too long"
        time.sleep(0.01)


def test_it_answers_what_the_engine_answers(engine, ended):
    asked = engine()
    asked.attend("charting")
    asked.start()
    assert [asked.feed(SOUND[:1000]), asked.feed(SOUND[1000:])] == ["1000", "1600"]
    assert asked.finish(SOUND) == Hypothesis("charting 1600", trust="sure")
    assert asked.process_id != os.getpid()
    assert not ended


@pytest.mark.parametrize("failing", ["dies", "hangs", "raises"])
def test_an_utterance_on_which_the_engine_fails_is_decoded_again(engine, ended, failing):
    asked = engine(**{failing: 1600})
    asked.attend("radiographs")
    first = asked.process_id
    assert heard(asked, SOUND) == "radiographs 1600"
    assert ended == ["ended"]
    assert asked.process_id != first
    assert not is_running(first)


@pytest.mark.parametrize("failing", ["dies", "hangs", "raises"])
def test_an_engine_that_fails_while_words_are_spoken_loses_only_their_preview(
    engine, ended, failing
):
    asked = engine(**{failing: 960}, in_feed=True)
    asked.attend("charting")
    asked.start()
    assert [asked.feed(SOUND[:480]), asked.feed(SOUND[480:960]), asked.feed(SOUND[960:])] == [
        "480",
        "",
        "",
    ]
    assert asked.finish(SOUND).text == "charting 1600"
    assert ended == ["ended"]


def test_an_utterance_that_fails_twice_is_given_up_and_the_next_is_heard(engine, ended):
    asked = engine(dies=1600, times=9)
    asked.attend("charting")
    with pytest.raises(NotDecodedError):
        heard(asked, SOUND)
    assert ended == ["ended"] * 2
    assert heard(asked, OTHER) == "charting 800"


def test_an_utterance_that_was_given_up_is_not_tried_again_when_it_goes_on(engine, ended):
    asked = engine(dies=1600, times=9)
    with pytest.raises(NotDecodedError):
        heard(asked, SOUND)
    asked.feed(OTHER)
    with pytest.raises(NotDecodedError):
        asked.finish(np.concatenate([SOUND, OTHER]))
    assert len(ended) == 2


@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGSTOP])
def test_a_process_that_is_killed_or_stopped_in_mid_utterance_is_begun_anew(engine, sent):
    asked = engine()
    asked.attend("charting")
    asked.start()
    asked.feed(SOUND[:480])
    os.kill(asked.process_id, sent)
    long = np.zeros(10 * SAMPLE_RATE, np.int16)  # more than a pipe holds
    assert asked.feed(long) == ""
    assert asked.finish(np.concatenate([SOUND[:480], long])).text == f"charting {480 + len(long)}"


@pytest.mark.parametrize("is_seen", [True, False])
def test_a_process_that_is_killed_between_utterances_costs_no_attempt(
    engine, ended, monkeypatch, is_seen
):
    asked = engine(dies=1600)
    asked.attend("charting")
    os.kill(asked.process_id, signal.SIGKILL)
    wait_until(lambda: not is_running(asked.process_id))
    if not is_seen:
        monkeypatch.setattr(_Engine, "is_alive", True)
    assert heard(asked, SOUND) == "charting 1600"
    assert len(ended) == 2


def test_what_stops_an_engine_from_loading_is_said_in_its_own_sentence():
    with pytest.raises(DictateError, match=r"^The model is broken: fetch it again\.$"):
        EngineProcess(says_nothing)


def test_an_engine_that_dies_while_it_loads_is_said_in_one_sentence():
    with pytest.raises(DictateError, match=r"ends as soon as it begins: run “dictate check”\.$"):
        EngineProcess(dies_at_once)


def test_an_engine_that_cannot_be_made_again_is_told_with_the_next_utterance(engine, tmp_path):
    asked = engine(dies=1600, times=9)
    (tmp_path / "gone").touch()
    with pytest.raises(NotDecodedError):
        heard(asked, SOUND)
    with pytest.raises(DictateError, match="The model is gone"):
        asked.start()


def test_closing_ends_the_process(engine):
    asked = engine()
    process_id = asked.process_id
    asked.close()
    assert not is_running(process_id)


PARENT = """
import sys, time
from pathlib import Path
from tests.failing_engine import SOUND, Fake, Making, heard
from dictate.speech.engine_process import EngineProcess, Patience
hangs = 1600 if sys.argv[2] == "hangs" else 0
asked = EngineProcess(Making(Fake(Path(sys.argv[1]), hangs=hangs)), patience=Patience(60, 2, 0))
print(asked.process_id, flush=True)
if hangs:
    heard(asked, SOUND)
time.sleep(600)
"""


@pytest.mark.parametrize("how", ["idle", "hangs"])
def test_the_process_ends_when_the_one_that_asks_is_killed(tmp_path, how):
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, str(tmp_path), how],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    with parent:
        process_id = int(parent.stdout.readline())
        assert is_running(process_id)
        if how == "hangs":
            wait_until(lambda: (tmp_path / "failed").exists())
        parent.kill()
    wait_until(lambda: not is_running(process_id))


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
def test_the_process_has_no_socket_and_leaves_no_core(engine):
    process = Path(f"/proc/{engine().process_id}")
    limits = (process / "limits").read_text()
    (core,) = [line.split() for line in limits.splitlines() if line.startswith("Max core")]
    assert core[4:6] == ["0", "0"]
    if os.geteuid() == 0:  # nobody else may look: it cannot be dumped
        opened = [str(each.readlink()) for each in (process / "fd").iterdir()]
        assert not [each for each in opened if not each.startswith(("pipe:", "/dev/null"))]
    else:
        with pytest.raises(PermissionError):
            list((process / "fd").iterdir())


# With a listener


class Spoken:
    """Clips of one recording as a source, with something to do before each."""

    name = "spoken"

    def __init__(self, before_each: Callable[[int], None] = lambda number: None) -> None:
        self._before_each = before_each
        sound = np.concatenate(list(AudioFile(FIXTURES / "whole_mouth/dictation.flac").blocks()))
        self.sound = sound[: 14 * SAMPLE_RATE]

    def blocks(self) -> Iterator[Samples]:
        for number, at in enumerate(range(0, len(self.sound), 480)):
            self._before_each(number)
            yield self.sound[at : at + 480]


def listen(source: Spoken, make: Callable[[], Recogniser]) -> list[ListeningEvent]:
    told: list[ListeningEvent] = []
    Listener(source, make, told.append, lambda: "charting").run()
    return told


def words(told: list[ListeningEvent]) -> list[str]:
    return [each.hypothesis.text for each in told if isinstance(each, Understood)]


def test_the_embedded_engine_hears_in_its_process_what_it_hears_here_though_it_is_killed():
    made: list[EngineProcess] = []

    def make() -> Recogniser:
        made.append(EngineProcess(EngineMaker("sphinx")))
        return made[-1]

    def kill(number: int) -> None:
        if number in (60, 250):
            os.kill(made[0].process_id, signal.SIGKILL)

    killed = listen(Spoken(kill), make)
    assert words(killed) == words(listen(Spoken(), EngineMaker("sphinx")))
    assert len(words(killed)) >= 3
    assert made[0].process_id is None, "closed when listening is over"


def test_an_utterance_that_is_given_up_is_told_in_its_place_with_its_sound(tmp_path):
    lengths = [len(each.samples) for each in utterances(Spoken())]
    assert len(set(lengths)) == len(lengths) >= 3
    fake = Fake(tmp_path, dies=lengths[1], times=9)
    told: list[ListeningEvent] = []
    Listener(
        Spoken(),
        lambda: EngineProcess(Making(fake), lambda: told.append(EngineEnded()), IMPATIENT),
        told.append,
        lambda: "charting",
    ).run()
    kinds = [type(each) for each in told if isinstance(each, Understood | Undecoded)]
    assert kinds == [Understood, Undecoded, *[Understood] * (len(lengths) - 2)]
    (lost,) = [each for each in told if isinstance(each, Undecoded)]
    assert (len(lost.audio.samples), lost.listened_for) == (lengths[1], "charting")
    assert told.count(EngineEnded()) == 2
    assert told[-1] == Stopped()


def test_a_listener_whose_engine_cannot_be_made_says_why():
    told = listen(Spoken(), lambda: EngineProcess(says_nothing))
    assert told == [Stopped("The model is broken: fetch it again.")]


def test_this_process_goes_on_while_the_engine_is_at_work(engine):
    asked = engine(hangs=1600)
    asked.attend("charting")
    deciding = Thread(target=heard, args=(asked, SOUND))
    deciding.start()
    turns = 0
    while deciding.is_alive():
        time.sleep(0.01)
        turns += 1
    assert turns > 20
