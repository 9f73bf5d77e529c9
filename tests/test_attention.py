"""“Stop listening” and “start listening”: what is said between them is nowhere."""

from datetime import UTC, datetime

import numpy as np
import pytest

from audio_fixtures.voices import voices_here
from dictate.chart.case import Case
from dictate.errors import DictateError
from dictate.grammar.spoken import WAITING, SpokenLanguages, grammars_folder, spoken_languages
from dictate.listening.listener import CUT_SHORT, Listener, Missed, Partial, Understood
from dictate.session.session import Session
from dictate.sounds.turns import CaptureClock, Turns
from dictate.speech.audio import UtteranceAudio
from dictate.speech.audio_file import AudioFile
from dictate.speech.recogniser import NOTE, Hypothesis
from dictate.speech.segmentation import utterances
from dictate.speech.sphinx import SphinxRecogniser
from tests.benchmarks.visit_language import spoken
from tests.fixture_replay import FIXTURES, MANIFEST, not_charting

RATE = 16_000
NAMED = SpokenLanguages(grammars_folder(), spoken_languages().contexts, lambda: "rosie")


def session(languages=None, **others):
    case = Case(id="mila", species="dog", opened=datetime(2026, 5, 4, tzinfo=UTC))
    return Session(case, languages or spoken_languages(), **others)


def say(one, text, trust="sure", **others):
    audio = UtteranceAudio(np.zeros(RATE, np.int16), 0.0, 1.0)
    return one.hear(Hypothesis(text, score=0.9, trust=trust, engine="fake"), audio, **others)


def test_what_is_said_while_not_listening_is_neither_charted_nor_asked_nor_kept():
    one = session()
    say(one, "two oh eight")
    say(one, "stop listening")
    before = one.events
    assert one.listening_for == WAITING
    for trust in ("sure", "doubtful", "foreign"):
        assert say(one, "two oh nine missing", trust) is None
        assert say(one, "yes", trust) is None
    assert one.events == before
    say(one, "start listening")
    assert one.listening_for == "charting"
    say(one, "missing")
    assert [(each.tooth, each.kind) for each in one.chart.findings] == [(208, "missing")]


def test_stopping_and_starting_are_kept_like_other_commands():
    one = session()
    say(one, "stop listening")
    say(one, "start listening")
    assert [(e.what.text, e.what.outcome, e.what.engine) for e in one.heard] == [
        ("stop listening", "charted", "fake"),
        ("start listening", "charted", "fake"),
    ]


@pytest.mark.parametrize("trust", ["doubtful", "foreign"])
def test_listening_starts_again_only_where_that_was_heard_beyond_doubt(trust):
    one = session()
    one.stop_listening()
    assert say(one, "start listening", trust) is None
    assert not one.is_listening


@pytest.mark.parametrize("said", ["don't start listening", "stop listening", "listening", "yes"])
def test_what_only_resembles_it_starts_nothing(said):
    one = session()
    one.stop_listening()
    assert say(one, said) is None
    assert not one.is_listening


def test_a_doubtful_stop_is_said_again():
    one = session()
    assert say(one, "stop listening", "doubtful").outcome == "refused"
    assert one.is_listening


@pytest.mark.parametrize(
    "part", ["awake examination", "soft tissue", "charting", "radiographs", "treatment"]
)
def test_it_stops_in_every_part_of_the_visit(part):
    one = session()
    one.type_text(f"go to {part}")
    say(one, "stop listening")
    assert not one.is_listening


def test_a_typed_phrase_is_charted_while_not_listening():
    one = session()
    one.stop_listening()
    one.type_text("208 missing")
    assert one.chart.charted_teeth == {208}
    assert not one.is_listening
    one.type_text("start listening")
    assert one.is_listening


def test_a_case_that_is_resumed_listens():
    one = session()
    one.stop_listening()
    assert session(events=one.events).is_listening


def test_it_stops_even_where_nothing_can_be_saved():
    def save(events):
        raise DictateError("The disk is full: make room.")

    one = session(save=save)
    with pytest.raises(DictateError):
        one.stop_listening()
    assert not one.is_listening
    with pytest.raises(DictateError):
        one.start_listening()
    assert not one.is_listening


def test_a_note_that_was_asked_for_waits_until_listening_starts_again():
    one = session()
    say(one, "take a note")
    assert "note waits" in one.stop_listening().reason
    assert say(one, "the owner will call tomorrow") is None
    assert "Say the note now" in one.start_listening().reason
    assert one.listening_for == NOTE
    say(one, "look at two oh nine in spring", "doubtful")
    assert [note.text for note in one.chart.notes] == ["look at two oh nine in spring"]


def test_stop_listening_said_in_place_of_a_note_is_no_note():
    one = session()
    say(one, "take a note")
    say(one, "stop listening", "doubtful")
    assert not one.is_listening
    assert one.chart.notes == ()
    assert one.note_is_due


def test_stop_listening_typed_in_place_of_a_note_is_no_note():
    one = session()
    one.type_text("take a note")
    one.type_text("stop listening")
    assert not one.is_listening
    one.type_text("look again in spring")
    assert [note.text for note in one.chart.notes] == ["look again in spring"]


def test_a_doubt_is_still_the_one_asked_last_after_a_pause():
    one = session()
    say(one, "two oh eight pocket two")
    say(one, "pocket five mesial", "doubtful")
    one.stop_listening()
    one.start_listening()
    say(one, "undo")
    assert not one.doubts
    assert [each.value for each in one.chart.findings] == [2]


def test_an_utterance_that_was_over_when_a_key_stopped_listening_is_charted():
    one = session()
    one.stop_listening()
    say(one, "two oh eight missing", listened_for="charting")
    assert one.chart.charted_teeth == {208}


def test_what_comes_late_after_a_spoken_stop_was_said_after_it():
    one = session()
    say(one, "stop listening")
    assert say(one, "two oh eight missing", listened_for="charting") is None


def test_what_was_heard_while_waiting_is_not_charted_by_a_key_pressed_meanwhile():
    one = session()
    one.stop_listening()
    one.start_listening()
    assert say(one, "start listening", listened_for=WAITING) is None
    assert len(one.heard) == 2


def test_a_finding_goes_to_no_tooth_after_an_utterance_without_its_beginning():
    one = session()
    say(one, "two oh eight")
    one.miss(UtteranceAudio(np.zeros(RATE, np.int16), 1.0, 2.0))
    assert say(one, "pocket five").outcome == "refused"
    assert say(one, "two oh nine pocket five").outcome == "charted"
    assert [each.tooth for each in one.chart.findings] == [209]


def test_a_note_without_its_beginning_is_said_again():
    one = session()
    say(one, "take a note")
    one.miss(UtteranceAudio(np.zeros(RATE, np.int16), 1.0, 2.0))
    assert one.listening_for == NOTE


# A name that is said first.


def test_with_a_name_only_the_name_starts_listening_again():
    one = session(NAMED)
    assert "“rosie start listening”" in one.stop_listening().reason
    assert say(one, "start listening") is None
    assert say(one, "rosie start listening").outcome == "charted"
    assert one.is_listening


def test_a_key_needs_no_name():
    one = session(NAMED)
    one.stop_listening()
    one.start_listening()
    assert one.is_listening


def test_a_name_of_two_words_is_said_whole():
    languages = SpokenLanguages(grammars_folder(), ("charting",), lambda: "doctor green")
    language = languages[WAITING]
    assert language.allows("doctor green start listening".split())
    assert {"doctor", "green"} <= set(languages.words)
    assert not language.allows("green start listening".split())


def test_a_name_that_nobody_can_pronounce_is_refused_with_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    languages = SpokenLanguages(grammars_folder(), ("charting",), lambda: "xylqua")
    with pytest.raises(DictateError, match=r"attention\.name.*xylqua.*pronunciations\.txt"):
        languages.check_name()


def test_a_name_may_stand_in_the_users_own_pronunciations(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    (tmp_path / "pronunciations.txt").write_text("xylqua Z AY L K W AH\n")
    languages = SpokenLanguages(grammars_folder(), ("charting",), lambda: "xylqua")
    languages.check_name()
    assert languages.pronunciations["xylqua"] == ("Z AY L K W AH",)


# What the engine makes of sound while waiting.


@pytest.fixture(scope="module")
def engine() -> SphinxRecogniser:
    return SphinxRecogniser(spoken_languages())


NEARLY = (
    "let's start the list",
    "she started listening to me",
    "stop the lessons",
    "are you listening",
    "start the suction",
    "the dog is listening",
    "start this thing please",
    "it starts with sitting",
    "start with this one",
    "start the lesson",
)


@pytest.mark.parametrize("path", list(not_charting()), ids=lambda path: path.stem)
def test_what_is_not_charting_starts_nothing(engine, path):
    one = session()
    one.stop_listening()
    engine.attend(WAITING)
    for audio in utterances(AudioFile(path)):
        one.hear(engine.finish(audio.samples), audio)
    assert not one.is_listening


@pytest.mark.skipif(not voices_here(), reason="no synthetic voice is installed here")
@pytest.mark.parametrize("voice", voices_here())
def test_talk_that_resembles_it_starts_nothing(engine, voice):
    one = session()
    one.stop_listening()
    engine.attend(WAITING)
    for text in NEARLY:
        one.hear(engine.finish(spoken(voice, text)))
        assert not one.is_listening, text


@pytest.mark.skipif(not voices_here(), reason="no synthetic voice is installed here")
@pytest.mark.parametrize("voice", [v for v in voices_here() if not v.startswith("espeak")])
def test_start_listening_is_heard(engine, voice):
    one = session()
    engine.attend(one.listening_for)
    one.hear(engine.finish(spoken(voice, "stop listening")))
    assert not one.is_listening
    engine.attend(one.listening_for)
    one.hear(engine.finish(spoken(voice, "start listening")))
    assert one.is_listening


# The listener: a source in pieces, with something done between them.


class Pieces:
    """Sound and things to do, in turn; the clock runs with the sound."""

    name = "pieces"

    def __init__(self, *pieces):
        self._pieces = pieces
        self.now = 100.0

    def blocks(self):
        noise = np.random.default_rng(1)
        for piece in self._pieces:
            if callable(piece):
                piece()
                continue
            samples = np.zeros(round(piece * RATE), np.int16) if isinstance(piece, float) else piece
            samples = samples + noise.integers(-8, 9, len(samples)).astype(np.int16)
            for first in range(0, len(samples), 480):
                block = samples[first : first + 480]
                self.now += len(block) / RATE
                yield block


class Engine:
    """Hears every utterance as the same finding, and remembers what it was asked."""

    name = "fake"

    def __init__(self):
        self.attended = []
        self.context = None

    def attend(self, context):
        self.context = context

    def start(self):
        pass

    def feed(self, samples):
        return "two oh"

    def finish(self, samples):
        self.attended.append((self.context, len(samples) / RATE))
        return Hypothesis("two oh eight missing", score=0.9, trust="sure", engine="fake")


def clip():
    """An utterance of 2 s or so without silence around it."""
    row = next(row for row in MANIFEST["sentences"] if row["voice"] == "flite_slt")
    (first, *_) = utterances(AudioFile(FIXTURES / row["file"]))
    loud = np.flatnonzero(np.abs(first.samples) > 300)
    return first.samples[loud[0] : loud[-1]]


def listened(*pieces, context=lambda: "charting", turns=None):
    told, engine = [], Engine()
    source = Pieces(*pieces)
    clock = CaptureClock(lambda: source.now)
    real_turns = turns(source) if turns else None
    listener = Listener(source, lambda: engine, told.append, context, real_turns, clock)
    listener.run()
    return [each for each in told if isinstance(each, Understood | Missed)], told, engine


class Wanted:
    """What the session wants to be listened for, changed while the source runs."""

    def __init__(self, context="charting"):
        self.context = context

    def __call__(self):
        return self.context

    def change(self, context):
        return lambda: setattr(self, "context", context)


def test_an_utterance_is_understood_with_what_was_listened_for():
    (one,), *_ = listened(1.0, clip(), 1.0)
    assert (one.listened_for, one.hypothesis.trust) == ("charting", "sure")


def test_an_utterance_that_was_over_when_a_key_stopped_is_sure():
    wanted = Wanted()
    (one,), _, engine = listened(1.0, clip(), 0.45, wanted.change(WAITING), 1.0, context=wanted)
    assert (one.listened_for, one.hypothesis.trust) == ("charting", "sure")
    assert [context for context, _ in engine.attended] == ["charting"]


def test_an_utterance_that_a_key_cuts_short_has_to_be_confirmed():
    wanted, sound = Wanted(), clip()
    half = len(sound) // 2
    found, told, _ = listened(
        1.0, sound[:half], wanted.change(WAITING), sound[half:], 1.5, context=wanted
    )
    cut = found[0]
    assert (cut.listened_for, cut.hypothesis.trust) == ("charting", "doubtful")
    assert cut.hypothesis.reason == CUT_SHORT
    assert len(cut.audio.samples) < half + RATE
    assert all(each.listened_for == WAITING for each in found[1:])
    assert all(not e.text for e in told[told.index(cut) :] if isinstance(e, Partial))


def test_no_word_is_shown_while_waiting():
    _, told, _ = listened(1.0, clip(), 1.0, context=lambda: WAITING)
    assert {each.text for each in told if isinstance(each, Partial)} <= {""}


def test_an_utterance_that_began_before_listening_started_is_missed():
    wanted, sound = Wanted(WAITING), clip()
    half = len(sound) // 2
    found, _, engine = listened(
        1.0, sound[:half], wanted.change("charting"), sound[half:], 1.0, context=wanted
    )
    assert [type(each) for each in found] == [Missed]
    assert engine.attended == []


def test_an_utterance_that_begins_after_listening_started_is_heard_whole():
    wanted = Wanted(WAITING)
    (one,), *_ = (
        listened(1.0, clip(), 1.0, wanted.change("charting"), 0.4, clip(), 1.0, context=wanted)[0][
            1:
        ],
        None,
    )
    assert (one.listened_for, one.hypothesis.trust) == ("charting", "sure")


# Turns: the tool does not listen to itself.


def beeping(turns_of, begin=True):
    def do():
        turns = turns_of[0]
        assert turns.take(_NEVER) if begin else turns.give_back() is None

    return do


class _Never:
    def is_set(self):
        return False

    def wait(self, seconds):
        pytest.fail("the tool had to wait for its turn")


_NEVER = _Never()


def with_turns(*pieces):
    made = []

    def turns(source):
        made.append(Turns(0.2, lambda: source.now))
        return made[0]

    steps = [each(made) if each is begins or each is ends else each for each in pieces]
    return listened(*steps, turns=turns)


def begins(made):
    return beeping(made)


def ends(made):
    return beeping(made, begin=False)


def test_a_sound_of_the_tool_is_not_heard():
    found, _, engine = with_turns(1.0, begins, clip(), ends, 1.5)
    assert found == [] and engine.attended == []


def test_an_utterance_after_a_sound_is_heard():
    (one,), *_ = with_turns(1.0, begins, 0.15, ends, 0.6, clip(), 1.0)
    assert isinstance(one, Understood)
    assert one.audio.start_s == pytest.approx(1.75 - 0.2 - 0.1, abs=0.4)


def test_an_utterance_that_began_under_a_sound_is_missed():
    sound = clip()
    (one,), _, engine = with_turns(1.0, begins, sound[:8000], ends, sound[8000:], 1.0)
    assert isinstance(one, Missed)
    assert engine.attended == []


def test_a_sound_waits_for_the_end_of_the_utterance():
    now = [10.0]
    turns = Turns(0.2, lambda: now[0])
    turns.hears(10.0, examiner_speaks=True)
    waited = []

    class GiveUp:
        def is_set(self):
            return len(waited) > 3

        def wait(self, seconds):
            waited.append(seconds)
            if len(waited) == 3:
                turns.hears(now[0], examiner_speaks=False)

    assert turns.take(GiveUp())
    assert len(waited) == 3


def test_a_sound_waits_until_all_was_heard_that_came_before_it():
    # The engine was busy: what was said meanwhile is still in the queue.
    now = [10.0]
    turns = Turns(0.2, lambda: now[0])
    turns.hears(9.5, examiner_speaks=False)
    asked = []

    class GiveUp:
        def is_set(self):
            return len(asked) == 2

        def wait(self, seconds):
            asked.append(seconds)

    assert not turns.take(GiveUp())
    turns.hears(9.95, examiner_speaks=False)
    assert turns.take(_NEVER)


def test_sound_that_was_captured_before_a_beep_is_heard_however_late_it_comes():
    now = [10.0]
    turns = Turns(0.2, lambda: now[0])
    turns.take(_NEVER)
    assert not turns.is_own_sound(9.5, 10.0)
    assert turns.is_own_sound(10.0, 10.03)
    now[0] = 10.3
    turns.give_back()
    assert turns.is_own_sound(10.45, 10.48)
    assert not turns.is_own_sound(10.5, 10.53)


def test_a_block_that_waited_was_captured_when_its_turn_was():
    now = [0.0]
    clock = CaptureClock(lambda: now[0])
    now[0] = 0.03
    assert clock.captured(0.03) == pytest.approx((0.0, 0.03))
    now[0] = 0.53
    assert clock.captured(0.03) == pytest.approx((0.03, 0.06))
    assert clock.captured(0.03) == pytest.approx((0.06, 0.09))
