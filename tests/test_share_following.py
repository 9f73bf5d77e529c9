"""Second screens that follow the charting screen and ask it to write, over the private socket."""

import asyncio
import stat

import numpy as np
import pytest

from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.listening.listener import Level, Partial
from dictate.screen.entry import PhraseInput
from dictate.screen.sharing import SharingApp
from dictate.screen.viewer import ViewerApp
from dictate.share.address import ShareAddress
from dictate.share.door_messages import Code, Failed, Serving
from dictate.share.door_process import DoorProcess
from dictate.share.hub import MOVED_ON, NOTE_ELSEWHERE
from dictate.share.link import Link
from dictate.share.messages import Answer, Happened, Loudness, State, Type, Words, line
from dictate.share.remote_session import RemoteSession
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis
from tests.screen_pilot import LARGE, Listening, enter, screen_of, see, session_of, understood

pytestmark = pytest.mark.network


class Second:
    """A second screen's session, driven from another thread than the charting screen's, as it is
    in its own process."""

    def __init__(self, link):
        self.link = link
        self.session = RemoteSession(link.case, spoken_languages(), link)
        self.live = []
        self.is_over = asyncio.Event()

    def catch_up(self):
        for told in self.link.news():
            match told:
                case Happened(events=events):
                    self.session.follow(events)
                case State():
                    self.session.state = told
                case _:
                    self.live.append(told)

    async def does(self, what, *arguments):
        try:
            return await asyncio.to_thread(what, *arguments)
        finally:
            self.catch_up()

    async def types(self, phrase):
        return await self.does(self.session.type_text, phrase)

    async def may_write(self, code):
        await self.does(self.session.enter_code, code)


class Charting:
    """The charting screen with its socket, and the second screens at it."""

    def __init__(self, monkeypatch, session, listen=None):
        async def no_pages(self, address, follow):
            self.follow = follow

        monkeypatch.setattr(DoorProcess, "start", no_pages)
        self.session = session
        self.app = SharingApp(session, listen, address=ShareAddress())
        self.seconds = []

    @property
    def socket(self):
        return self.app._door.follow

    @property
    def gate(self):
        return self.app._hub.gate

    async def __aenter__(self):
        self._running = self.app.run_test(size=LARGE)
        self.pilot = await self._running.__aenter__()
        for _ in range(50):
            await self.pilot.pause(0.02)
            if hasattr(self.app._door, "follow"):
                return self
        pytest.fail("no socket was opened")

    async def __aexit__(self, *error):
        await self._running.__aexit__(*error)
        for second in self.seconds:
            second.link.close()

    async def second(self, seat="tablet"):
        link = await asyncio.to_thread(Link, self.socket, seat)
        await asyncio.to_thread(link.wait_for_state)
        second = Second(link)
        second.catch_up()
        loop = asyncio.get_running_loop()
        link.follow(lambda: None, lambda: loop.call_soon_threadsafe(second.is_over.set))
        self.seconds.append(second)
        return second


async def eventually(second, true):
    for _ in range(100):
        second.catch_up()
        if true():
            return
        await asyncio.sleep(0.02)
    pytest.fail("that did not come about")


def words_on(session, tooth):
    return [each.words() for each in session.chart.on(tooth)]


async def test_a_second_screen_begins_with_all_that_happened(monkeypatch):
    session = session_of(phrases=("208 calculus 2", "undo", "redo", "109 pocket 5 mesial"))
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        assert second.session.events == session.events
        assert second.session.chart == session.chart
        assert second.session.case == session.case


async def test_a_second_screen_follows_what_is_charted_undone_and_asked(monkeypatch):
    session, listening = session_of(), Listening()
    async with Charting(monkeypatch, session, listening) as charting:
        second = await charting.second()
        await enter(charting.pilot, "208 calculus 2")
        await enter(charting.pilot, "undo")
        listening.says(understood("one oh nine calculus three", trust="doubtful"))
        await eventually(second, lambda: len(second.session.doubts) == 1)
        assert second.session.events == session.events
        assert second.session.chart == session.chart


async def test_a_second_screen_is_told_words_so_far_level_and_whether_it_listens(monkeypatch):
    session, listening = session_of(), Listening()
    async with Charting(monkeypatch, session, listening) as charting:
        second = await charting.second()
        assert second.session.state.hearing == "preparing"
        listening.says(Level(-20.0, False), Partial("two oh eight"))
        await eventually(second, lambda: Words(text="two oh eight") in second.live)
        assert Loudness(dbfs=-20.0, clipping=False) in second.live
        await charting.pilot.press("f5")
        await eventually(second, lambda: not second.session.is_listening)
        assert second.session.state.hearing == "listening"


async def test_without_the_code_nothing_is_written(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        for asks in (
            lambda: second.session.type_text("208 calculus 2"),
            lambda: second.session.decide([208], "extract", "accepted"),
            lambda: second.session.press("turn_attention"),
            second.session.stop_listening,
            lambda: second.session.hear(Hypothesis("undo", trust="sure")),
            lambda: second.session.miss(UtteranceAudio(np.zeros(160, np.int16), 0, 1)),
        ):
            with pytest.raises(DictateError):
                await second.does(asks)
        assert session.events == ()


async def test_a_second_screen_that_only_says_it_may_write_may_not(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        second.session.state = State(writes=True)
        with pytest.raises(DictateError, match="only looks on"):
            await second.types("208 calculus 2")
        assert session.events == ()


async def test_with_the_code_a_phrase_is_charted_once_and_answered(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        code = charting.gate.code
        await second.may_write(code)
        heard = await second.types("208 calculus 2")
        assert heard.outcome == "charted"
        assert heard.engine == "keyboard"
        assert words_on(session, 208) == words_on(second.session, 208) == ["calculus 2"]
        assert len(session.heard) == 1
        assert charting.gate.code != code
        await see(charting.pilot, "208 calculus 2")


async def test_a_code_lets_one_browser_write_and_goes_on_when_it_opens_the_page_again(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        tablet = await charting.second("tablet")
        code = charting.gate.code
        await tablet.may_write(code)
        other = await charting.second("other")
        with pytest.raises(DictateError, match="not the code"):
            await other.may_write(code)
        assert not other.session.state.writes
        again = await charting.second("tablet")
        await again.types("208 calculus 2")
        assert words_on(session, 208) == ["calculus 2"]


async def test_what_is_refused_is_told_to_who_typed_it(monkeypatch):
    session = session_of(species="cat")
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        await second.may_write(charting.gate.code)
        heard = await second.types("205 calculus 2")
        assert heard.outcome == "refused"
        assert "205" in heard.reason


async def test_what_cannot_be_saved_is_told_to_both_and_changes_nothing(monkeypatch):
    def full(events):
        raise DictateError("The disk is full.")

    session = session_of(save=full)
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        await second.may_write(charting.gate.code)
        with pytest.raises(DictateError, match="The disk is full"):
            await second.types("208 calculus 2")
        assert session.events == second.session.events == ()
        await see(charting.pilot, "The disk is full")


async def test_an_answer_to_a_question_that_was_not_seen_is_not_taken(monkeypatch):
    session, listening = session_of(), Listening()
    async with Charting(monkeypatch, session, listening) as charting:
        second = await charting.second()
        await second.may_write(charting.gate.code)
        listening.says(understood("two oh eight calculus two", trust="doubtful"))
        await charting.pilot.pause()
        asked = Type(number=second.link.next_number(), phrase="yes", seen=0)
        answer = await second.does(second.link.ask, asked)
        assert answer.problem == MOVED_ON
        assert len(session.doubts) == 1
        assert words_on(session, 208) == []


async def test_a_question_that_was_seen_is_answered_from_the_second_screen(monkeypatch):
    session, listening = session_of(), Listening()
    async with Charting(monkeypatch, session, listening) as charting:
        second = await charting.second()
        await second.may_write(charting.gate.code)
        listening.says(understood("two oh eight calculus two", trust="doubtful"))
        await eventually(second, lambda: len(second.session.doubts) == 1)
        await second.types("yes")
        assert session.doubts == second.session.doubts == ()
        assert words_on(session, 208) == ["calculus 2"]


async def test_two_keyboards_lose_and_double_nothing(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        seconds = [await charting.second(f"screen {n}") for n in range(3)]
        for second in seconds:
            await second.may_write(charting.gate.code)

        async def chart_all(second, teeth):
            for tooth in teeth:
                while True:
                    try:
                        await second.types(f"{tooth} calculus 2")
                        break
                    except DictateError as error:
                        assert str(error) == MOVED_ON
                        await asyncio.sleep(0.01)

        mouths = (range(101, 109), range(201, 209), range(301, 309))
        await asyncio.gather(*(chart_all(s, m) for s, m in zip(seconds, mouths, strict=True)))
        for tooth in (each for mouth in mouths for each in mouth):
            assert words_on(session, tooth) == ["calculus 2"]
        assert len(session.heard) == 24
        assert [each.sequence for each in session.events] == [*range(1, len(session.events) + 1)]
        for second in seconds:
            await eventually(second, lambda s=second: s.session.chart == session.chart)


async def test_a_note_that_is_being_taken_is_not_disturbed(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        second = await charting.second()
        await second.may_write(charting.gate.code)
        await enter(charting.pilot, "take a note")
        await eventually(second, lambda: second.session.note_is_due)
        with pytest.raises(DictateError) as caught:
            await second.types("208 calculus 2")
        assert str(caught.value) == NOTE_ELSEWHERE
        await enter(charting.pilot, "gums bleed")
        await eventually(second, lambda: not second.session.note_is_due)
        assert [each.text for each in session.chart.notes] == ["gums bleed"]
        await second.types("take a note")
        await second.types("tail docked")
        assert [each.text for each in session.chart.notes] == ["gums bleed", "tail docked"]


async def test_a_key_pressed_there_acts_here(monkeypatch):
    session, listening = session_of(), Listening()
    async with Charting(monkeypatch, session, listening) as charting:
        listening.says(Level(-20.0, False))
        second = await charting.second()
        await second.may_write(charting.gate.code)
        await second.does(second.session.press, "turn_attention")
        assert not session.is_listening


@pytest.mark.parametrize(
    "nonsense",
    [b"\n", b"{}\n", b'{"ask": "type", "number": 1}\n', b"\xff\xfe\n", b"x" * 100_000 + b"\n"],
)
async def test_who_talks_nonsense_is_let_go_and_the_others_stay(monkeypatch, nonsense):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        good = await charting.second()
        bad = await charting.second("bad")
        bad.link._socket.sendall(nonsense)
        await asyncio.wait_for(bad.is_over.wait(), 5)
        await good.may_write(charting.gate.code)
        assert (await good.types("208 calculus 2")).outcome == "charted"


async def test_the_socket_is_its_owners_alone_and_gone_at_the_end(monkeypatch):
    async with Charting(monkeypatch, session_of()) as charting:
        path = charting.socket
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
        second = await charting.second()
        code = charting.gate.code
    assert not path.exists()
    assert not path.parent.exists()
    await asyncio.wait_for(second.is_over.wait(), 5)
    with pytest.raises(DictateError, match="gone"):
        await asyncio.to_thread(second.session.enter_code, code)
    assert charting.gate.code == ""


async def test_a_screen_that_lags_behind_is_let_go_and_charting_goes_on(monkeypatch):
    monkeypatch.setattr("dictate.share.hub._MOST_BEHIND", 100_000)
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        link = await asyncio.to_thread(Link, charting.socket, "asleep")
        await eventually(Second(link), lambda: charting.app._hub.watching == 1)
        for _ in range(200):
            await enter(charting.pilot, "208 calculus 2")
            if charting.app._hub.watching == 0:
                break
            charting.app._hub._tell_all(Words(text="x" * 20_000))
        assert charting.app._hub.watching == 0
        link.close()


async def test_the_charting_screen_shows_what_opens_and_who_is_there(monkeypatch):
    async with Charting(monkeypatch, session_of()) as charting:
        take = charting.app._take_from_door
        await see(charting.pilot, "Second screen: getting ready")
        take(Serving(url="https://192.168.1.20:8470/", fingerprint="0123ABCD 4567EF89"))
        take(Code(code="abcd-2345", wrong=0))
        await see(charting.pilot, "2nd screen https://192.168.1.20:8470/ code  abcd-2345")
        await see(charting.pilot, "SHA-256 0123ABCD 4567EF89")
        second = await charting.second()
        await see(charting.pilot, f"1 watching, 0 can write; code to write  {charting.gate.code}")
        await second.may_write(charting.gate.code)
        await see(charting.pilot, "1 watching, 1 can write")
        take(Code(code="abcd-2345", wrong=3))
        await see(charting.pilot, "3 wrong codes were tried")
        await charting.app.run_action("turn_away")
        await asyncio.wait_for(second.is_over.wait(), 5)
        again = await charting.second()
        assert not again.session.state.writes


async def test_where_nothing_can_be_served_charting_goes_on(monkeypatch):
    session = session_of()
    async with Charting(monkeypatch, session) as charting:
        charting.app._take_from_door(Failed(problem="Port 8470 is taken: name another one."))
        await see(charting.pilot, "No second screen: Port 8470 is taken")
        await enter(charting.pilot, "208 calculus 2")
        assert words_on(session, 208) == ["calculus 2"]


class TalkingLink:
    """A link to no charting screen: it tells what a test tells it to."""

    def __init__(self, session, **state):
        self.case = session.case
        self._news = [Happened(events=session.events), State(**state)]
        self.asked = []
        self.answers = []

    def follow(self, has_news, is_over):
        self.has_news, self.is_over = has_news, is_over

    def tells(self, *told):
        self._news += told
        self.has_news()

    def news(self):
        while self._news:
            yield self._news.pop(0)

    def next_number(self):
        return len(self.asked) + 1

    def ask(self, asked):
        self.asked.append(asked)
        return self.answers.pop(0)

    def close(self):
        pass


def viewer_of(session, **state):
    link = TalkingLink(session, **state)
    return link, ViewerApp(RemoteSession(link.case, spoken_languages(), link), link)


async def test_the_second_screen_says_that_it_is_one_and_how_to_write():
    _, app = viewer_of(session_of(phrases=("208 calculus 2",)))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "SECOND SCREEN, only looking on")
        await see(pilot, "type the code for writing")
        await see(pilot, "208: calculus 2")


async def test_a_code_that_is_typed_is_not_taken_for_a_phrase_nor_kept():
    link, app = viewer_of(session_of())
    link.answers.append(Answer(to=1))
    async with app.run_test(size=LARGE) as pilot:
        await enter(pilot, "abcd-2345")
        assert [each.ask for each in link.asked] == ["may_write"]
        await see(pilot, "what you type here is charted")
        await pilot.press("up")
        assert app.query_one(PhraseInput).value == ""


async def test_a_phrase_without_leave_to_write_asks_nothing_and_stays_to_be_read():
    link, app = viewer_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        await enter(pilot, "208 calculus 2")
        await see(pilot, "This screen only looks on")
        assert link.asked == []
        assert app.query_one(PhraseInput).value == "208 calculus 2"


async def test_problems_of_the_charting_screen_are_seen_on_the_second():
    link, app = viewer_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        link.tells(State(hearing="stopped", problems={"listening": "No microphone."}))
        await see(pilot, "On the charting screen: No microphone.")
        link.tells(State(hearing="listening"))
        await pilot.pause()
        assert "No microphone" not in screen_of(app)
        await see(pilot, "LISTENING")


async def test_a_second_screen_that_hears_no_more_says_so(monkeypatch):
    monkeypatch.setattr("dictate.screen.viewer._SILENT_FOR_S", 0.5)
    _, app = viewer_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "may be old")


async def test_a_second_screen_ends_with_the_charting_screen():
    link, app = viewer_of(session_of())
    async with app.run_test(size=LARGE) as pilot:
        link.is_over()
        await pilot.pause(0.1)
        assert not app.is_running


def test_a_line_holds_one_message():
    assert line(Words(text="a\nb")).count(b"\n") == 1
