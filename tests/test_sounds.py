"""Answers by sound: tones, words read back, and who plays them when."""

import shutil
import threading
import time

import numpy as np
import pytest

from dictate.chart.events import Heard
from dictate.commands.sounds import play_all
from dictate.errors import DictateError
from dictate.settings import SoundSettings
from dictate.sounds.answers import Answers
from dictate.sounds.player import Answer, Player, Silent, Speaking
from dictate.sounds.readback import outcome_in_words
from dictate.sounds.spoken import speech
from dictate.sounds.tones import SOUND_RATE, TONE_NAMES, TONES, tone
from dictate.sounds.turns import Turns
from tests.screen_pilot import session_of

# Tones.


@pytest.mark.parametrize("name", TONE_NAMES)
def test_a_tone_is_short_soft_and_within_500_to_2000_hz(name):
    sound = tone(name, 1.0)
    assert len(sound) <= SOUND_RATE / 2
    assert np.abs(sound).max() <= 1.0
    spectrum = np.abs(np.fft.rfft(sound)) ** 2
    pitches = np.fft.rfftfreq(len(sound), 1 / SOUND_RATE)
    inside = spectrum[(pitches >= 500) & (pitches <= 2000)].sum() / spectrum.sum()
    assert inside > 0.98
    first_5_ms = np.abs(sound[: SOUND_RATE // 200]).max()
    assert first_5_ms < 0.35


def test_every_tone_has_a_rhythm_of_its_own():
    rhythms = {
        tuple("long" if beep.length_s > 0.15 else "short" for beep in each.beeps)
        for each in TONES.values()
    }
    assert len(rhythms) == len(TONES)


def test_the_volume_is_a_share_of_full_scale():
    assert np.abs(tone("charted", 0.25)).max() == pytest.approx(0.25, abs=0.01)
    assert not tone("charted", 0).any()


# What is read back.


def heard_of(*phrases, species="dog"):
    session = session_of(species)
    heard = [session.type_text(phrase) for phrase in phrases]
    return heard[-1]


@pytest.mark.parametrize(
    "phrases, words",
    [
        (["208 pocket 5"], "two oh eight, pocket five"),
        (["208", "pocket 5 mesial"], "two oh eight, pocket five mesial"),
        (["210 calculus 2"], "two ten, calculus two"),
        (["208 buccal 3 2 4"], "two oh eight, pocket three two four buccal"),
        (["104 CCF"], "one oh four, fracture complicated crown fracture"),
        (["next tooth"], None),
        (["go to radiographs"], "go to radiographs"),
        (["note: call the owner"], "note kept"),
        (["take a note"], "say the note now"),
        (["208 missing", "undo"], "undo"),
    ],
)
def test_what_is_charted_is_read_back_as_the_trade_says_it(phrases, words):
    if words is None:
        assert outcome_in_words(heard_of(*phrases))
    else:
        assert outcome_in_words(heard_of(*phrases)) == words


def test_the_same_on_many_teeth_is_told_with_their_number():
    words = outcome_in_words(heard_of("all upper incisors calculus 1"))
    assert words.endswith("calculus one on six teeth")


def test_what_is_refused_is_said_with_its_reason():
    words = outcome_in_words(heard_of("205 missing", species="cat"))
    assert words.startswith("not charted. ")
    assert "two oh five" in words


def query(text="two oh eight pocket five"):
    finding = {"tooth": 208, "kind": "pocket", "value": 5, "unit": "mm", "site": None}
    statement = {"statement": "finding", "finding": finding}
    return Heard(text=text, outcome="query", reason="Unclear.", statements=(statement,))


def test_a_doubt_between_two_sentences_asks_which():
    words = outcome_in_words(query(), ("two oh eight pocket nine",))
    assert words == "did you say two oh eight pocket five, or two oh eight pocket nine?"


def test_a_doubt_without_another_sentence_asks_whether():
    assert outcome_in_words(query(), ("two oh eight pocket five",)) == "two oh eight, pocket five?"


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_words_become_sound_at_the_volume_of_the_settings():
    settings = SoundSettings(volume=0.5)
    slow = speech("two oh eight, pocket five", settings.model_copy(update={"rate": 120}))
    fast = speech("two oh eight, pocket five", settings.model_copy(update={"rate": 240}))
    assert 0.5 * SOUND_RATE < len(fast) < len(slow) < 6 * SOUND_RATE
    assert np.abs(slow).max() == pytest.approx(0.45, abs=0.01)


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_a_voice_that_is_not_there_is_said():
    with pytest.raises(DictateError, match=r"sounds\.voice"):
        speech("yes", SoundSettings(voice="xx-zz"))


def test_without_espeak_the_sentence_says_what_to_install(monkeypatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(DictateError, match="install espeak-ng"):
        speech("yes", SoundSettings())


# The player.


class FakeOutput:
    """Keeps what is played; plays until `go_on` is set, or is cut short."""

    def __init__(self, problem=None):
        self.played, self.cut = [], 0
        self.problem = problem
        self.go_on = threading.Event()
        self.go_on.set()

    def play(self, sound, may_begin, cut_short):
        if self.problem:
            raise DictateError(self.problem)
        if not may_begin():
            return
        self.played.append(sound)
        while not self.go_on.wait(0.01):
            if cut_short.is_set():
                self.cut += 1
                return


def wait_for(done):
    for _ in range(300):
        if done():
            return
        time.sleep(0.01)
    pytest.fail("it did not come")


class Playing:
    def __init__(self, output, settings=None, say=None):
        self.output, self.told, self.said = output, [], []
        self.turns = Turns(0.0)
        self.answers = Answers(settings or SoundSettings(), self.turns, output, say or self._say)

    def _say(self, words, settings):
        self.said.append(words)
        return np.full(10, 0.1, np.float32)

    def __enter__(self):
        self.answers.begin(self.told.append)
        return self

    def __exit__(self, *problem):
        self.output.go_on.set()
        self.answers.end()


def charted(statement="tooth", **more):
    return Heard(text=statement, outcome="charted", statements=({"statement": statement, **more},))


def test_an_outcome_is_answered_by_its_tone():
    with Playing(FakeOutput()) as playing:
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: playing.output.played)
        wait_for(lambda: Speaking(False) in playing.told)
    assert np.array_equal(playing.output.played[0], tone("charted", 0.5))
    assert playing.told == [Speaking(True), Speaking(False)]
    assert playing.said == []


def test_changed_settings_answer_from_then_on():
    with Playing(FakeOutput()) as playing:
        playing.answers.use(SoundSettings(volume=0.2, read_back="all", echo_s=0.5))
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: playing.output.played and playing.said)
        wait_for(lambda: Speaking(False) in playing.told)
    assert np.array_equal(
        playing.output.played[0][: len(tone("charted", 0.2))], tone("charted", 0.2)
    )
    now = time.monotonic()
    assert playing.turns.is_own_sound(now, now + 0.1)


def test_sounds_that_were_turned_off_stay_off_when_they_are_made_louder():
    with Playing(FakeOutput()) as playing:
        playing.answers.turn(False)
        playing.answers.use(SoundSettings(volume=0.9))
        assert not playing.answers.are_on
        playing.answers.use(SoundSettings(tones=False, read_back="doubts"))
        assert playing.answers.are_on
        playing.answers.use(SoundSettings(tones=False))
        assert not playing.answers.are_on


@pytest.mark.parametrize(
    "read_back, said", [("off", []), ("doubts", ["two oh eight, pocket five?"])]
)
def test_read_back_of_doubts_is_of_doubts_alone(read_back, said):
    with Playing(FakeOutput(), SoundSettings(read_back=read_back)) as playing:
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: len(playing.output.played) == 1)
        playing.answers.to(query())
        wait_for(lambda: len(playing.output.played) == 2)
    assert playing.said == said


def test_read_back_of_all_follows_the_tone():
    with Playing(FakeOutput(), SoundSettings(read_back="all")) as playing:
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: playing.output.played)
    assert playing.said == ["two oh eight"]
    assert len(playing.output.played[0]) > len(tone("charted", 0.5)) + 10


def test_words_alone_where_tones_are_off():
    with Playing(FakeOutput(), SoundSettings(tones=False, read_back="all")) as playing:
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: playing.output.played)
    assert playing.output.played[0].max() == pytest.approx(0.1)


def test_all_off_is_silent():
    with Playing(FakeOutput(), SoundSettings(tones=False)) as playing:
        playing.answers.to(charted(tooth=208))
        time.sleep(0.1)
    assert playing.output.played == []


def test_sounds_off_and_on_by_what_is_said():
    with Playing(FakeOutput()) as playing:
        playing.answers.to(charted("sounds_off"))
        playing.answers.to(charted(tooth=208))
        time.sleep(0.1)
        assert playing.output.played == []
        playing.answers.to(charted("sounds_on"))
        wait_for(lambda: playing.output.played)


def test_listening_and_not_listening_have_their_own_tones():
    with Playing(FakeOutput()) as playing:
        playing.answers.to(charted("stop_listening"))
        wait_for(lambda: len(playing.output.played) == 1)
        playing.answers.to(charted("start_listening"))
        wait_for(lambda: len(playing.output.played) == 2)
    stopped, started = playing.output.played
    assert np.array_equal(stopped, tone("stopped", 0.5))
    assert np.array_equal(started, tone("started", 0.5))


def test_a_sound_can_be_ended():
    output = FakeOutput()
    output.go_on.clear()
    with Playing(output, SoundSettings(read_back="all")) as playing:
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: output.played)
        playing.answers.silence()
        wait_for(lambda: output.cut == 1)


def test_words_that_wait_are_left_out_once_more_is_said():
    output = FakeOutput()
    output.go_on.clear()
    with Playing(output, SoundSettings(read_back="all")) as playing:
        for tooth in (208, 209, 210):
            playing.answers.to(charted(tooth=tooth))
            wait_for(lambda: output.played)
        output.go_on.set()
        wait_for(lambda: len(output.played) == 3)
    assert playing.said == ["two oh eight", "two ten"]


def test_no_output_is_told_once_and_the_tool_goes_on():
    with Playing(FakeOutput(problem="No sounds: connect a loudspeaker.")) as playing:
        for _ in range(3):
            playing.answers.to(charted(tooth=208))
            time.sleep(0.05)
        wait_for(lambda: playing.told.count(Speaking(False)) == 3)
    told = [each for each in playing.told if isinstance(each, Silent)]
    assert told == [Silent("No sounds: connect a loudspeaker.")]


def test_without_a_voice_the_tone_is_played_all_the_same():
    def say(words, settings):
        raise DictateError("Install espeak-ng.")

    with Playing(FakeOutput(), SoundSettings(read_back="all"), say) as playing:
        playing.answers.to(charted(tooth=208))
        wait_for(lambda: playing.output.played)
    assert Silent("Install espeak-ng.") in playing.told
    assert playing.output.played[0].any()


def test_the_player_waits_for_the_examiner():
    now = [10.0]
    turns = Turns(0.2, lambda: now[0])
    turns.hears(10.0, examiner_speaks=True)
    output = FakeOutput()
    player = Player(output, turns, lambda event: None)
    player.start()
    player.play(Answer(tone("charted", 0.5)))
    time.sleep(0.1)
    assert output.played == []
    turns.hears(10.0, examiner_speaks=False)
    wait_for(lambda: output.played)
    assert turns.is_own_sound(10.0, 10.1)
    player.stop()
    player.join(1)
    assert not player.is_alive()


# The command.


def test_every_sound_is_played_with_its_meaning(capsys):
    output = FakeOutput()
    play_all(SoundSettings(), output)
    printed = capsys.readouterr().out
    assert len(output.played) == len(TONES)
    assert all(each.meaning in printed and each.rhythm in printed for each in TONES.values())


def test_without_an_output_the_meanings_are_printed_and_one_sentence_says_why(capsys):
    with pytest.raises(DictateError, match="connect"):
        play_all(SoundSettings(), FakeOutput(problem="No sounds: connect a loudspeaker."))
    assert TONES["stopped"].meaning in capsys.readouterr().out
