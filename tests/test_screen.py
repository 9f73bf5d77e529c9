import re
import threading
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from dictate.chart.anatomy import anatomy_of
from dictate.chart.case import Case
from dictate.chart.finding import Finding
from dictate.errors import DictateError
from dictate.grammar.spoken import charting_language
from dictate.listening import Level, Partial, Stopped, Understood
from dictate.screen.account import finding_words
from dictate.screen.app import ChartingApp
from dictate.screen.entry import PhraseInput
from dictate.screen.keys import Keys
from dictate.screen.mouth import Mouth
from dictate.screen.mouth_layout import lay_out
from dictate.screen.signs import fit, state_of
from dictate.session import Session
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
SMALL, LARGE = (80, 24), (120, 40)


def session_of(species="dog", phrases=(), animal="Mila", **settings):
    case = Case(id="mila-1", species=species, opened=OPENED, animal=animal)
    session = Session(case, charting_language(), **settings)
    for phrase in phrases:
        session.type_text(phrase)
    return session


def app_of(session, listen=None):
    return ChartingApp(session, listen, now=lambda: OPENED + timedelta(seconds=754))


class FakeListener:
    """Tells what a test asks it to, from a thread of its own."""

    def __init__(self, tell):
        self.tell = tell
        self.calls = []

    def start(self):
        self.calls.append("start")

    def stop(self):
        self.calls.append("stop")

    def join(self, timeout):
        self.calls.append("join")

    def says(self, *events):
        thread = threading.Thread(target=lambda: [self.tell(event) for event in events])
        thread.start()
        thread.join()


class Listening:
    """Makes fake listeners and keeps them."""

    def __init__(self):
        self.made = []

    def __call__(self, tell):
        self.made.append(FakeListener(tell))
        return self.made[-1]

    def says(self, *events):
        self.made[-1].says(*events)


def understood(text, trust="sure", **details):
    audio = UtteranceAudio(np.zeros(160, np.int16), start_s=1.5, end_s=2.5, file="one.wav")
    return Understood(Hypothesis(text, score=0.9, trust=trust, engine="fake", **details), audio)


def screen_of(app):
    """The lines of the screen as text."""
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def see(pilot, words):
    """Wait until words are on the screen; fail with the screen if they do not come."""
    for _ in range(40):
        await pilot.pause(0.05)
        if words in screen_of(pilot.app):
            return
    pytest.fail(f"{words!r} is not on the screen:\n{screen_of(pilot.app)}")


async def enter(pilot, phrase):
    pilot.app.query_one(PhraseInput).value = phrase
    await pilot.press("enter")
    await pilot.pause()


@pytest.mark.parametrize("species, teeth", [("dog", 42), ("cat", 30)])
@pytest.mark.parametrize("size", [SMALL, (100, 30), LARGE, (220, 60)])
async def test_every_tooth_of_the_species_is_on_the_screen(species, teeth, size):
    app = app_of(session_of(species))
    async with app.run_test(size=size) as pilot:
        await see(pilot, "101")
        shown = {int(number) for number in re.findall(r"\b\d{3}\b", screen_of(app))}
    assert shown == set(anatomy_of(species).permanent_teeth)
    assert len(shown) == teeth


async def test_every_tooth_is_there_with_a_problem_a_doubt_and_deciduous_teeth():
    deciduous = [
        f"{quadrant}{place:02} mobility 1" for quadrant in (5, 6, 7, 8) for place in (1, 4)
    ]
    session = session_of("dog", [*deciduous, "108 pocket 6", "108 pocket 7"])
    listening = Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Stopped("No microphone is connected."))
        await see(pilot, "No microphone is connected.")
        lines = screen_of(app).splitlines()
    assert {str(tooth) for tooth in session.chart.anatomy.permanent_teeth} <= set(
        re.findall(r"\b\d{3}\b", "\n".join(lines))
    )
    assert "Type >" in lines[-2]
    assert "F2 yes" in lines[-1] and "^Q quit" in lines[-1]


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("width", range(60, 240, 7))
def test_no_tooth_lies_on_another_or_beyond_the_edge(species, width):
    anatomy = anatomy_of(species)
    layout = lay_out(species, anatomy.deciduous_teeth, width, 12)
    taken = [
        (place.column + column, place.line + line)
        for place in layout.places
        for column in range(place.width)
        for line in range(place.height)
    ]
    assert len(taken) == len(set(taken))
    assert all(0 <= column < width and 0 <= line < layout.height for column, line in taken)
    assert layout.between not in {line for _, line in taken}
    assert {place.tooth for place in layout.places} == {
        *anatomy.permanent_teeth,
        *anatomy.deciduous_teeth,
    }


async def test_the_animals_right_is_on_the_viewers_left():
    app = app_of(session_of())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.pause()
        mouth = app.query_one(Mouth)
        columns = [mouth.place_of(tooth).column for tooth in (110, 104, 101, 201, 204, 210)]
        lines = [mouth.place_of(tooth).line for tooth in (101, 108, 408, 401)]
    assert columns == sorted(columns)
    assert lines == sorted(lines)


async def test_a_typed_phrase_is_charted_and_shown():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press(*"208 pocket 6 mesial", "enter")
        await see(pilot, "[208]")
        shown = screen_of(app)
    assert session.chart.on(208) == (
        Finding(tooth=208, kind="pocket", value=6, unit="mm", site="mesial"),
    )
    assert "✓ charted  “208 pocket 6 mesial”" in shown
    assert "208: pocket 6 mm mesial" in shown
    assert "left maxillary fourth" in shown
    assert "1 of 42 teeth charted" in shown
    assert "0:12:34" in shown
    assert "6!" in shown


async def test_the_entry_line_is_empty_after_a_phrase_and_gives_it_back():
    app = app_of(session_of())
    async with app.run_test(size=SMALL) as pilot:
        await enter(pilot, "208 calculus 2")
        assert app.query_one(PhraseInput).value == ""
        await pilot.press("up")
        assert app.query_one(PhraseInput).value == "208 calculus 2"


async def test_what_is_refused_says_why():
    app = app_of(session_of("cat"))
    async with app.run_test(size=SMALL) as pilot:
        await enter(pilot, "205 normal")
        await see(pilot, "✗ refused  “205 normal”")
        await see(pilot, "A cat has no 205.")


async def test_undo_and_redo_keys():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+z")
        await see(pilot, "taken back: “208 calculus 2”")
        await see(pilot, "✓ charted  “208 calculus 2” – taken back")
        assert not session.chart.findings
        await pilot.press("ctrl+y")
        await see(pilot, "put back: “208 calculus 2”")
        assert session.chart.charted_teeth == {208}


async def test_keys_for_the_next_and_the_previous_tooth():
    session = session_of(phrases=["108"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+right")
        await see(pilot, "[107]")
        await pilot.press("ctrl+left")
        await see(pilot, "[108]")


@pytest.mark.parametrize("key, depth", [("f2", 7), ("f3", 6)])
async def test_a_doubt_is_shown_and_settled_by_a_key(key, depth):
    session = session_of(phrases=["208 pocket 6 mesial", "pocket 7 mesial"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "? 208 has pocket 6 mm mesial. Replace by pocket 7 mm mesial?")
        await see(pilot, "heard  “pocket 7 mesial”")
        await see(pilot, "YES charts  208: pocket 7 mm mesial")
        await see(pilot, "?P6")
        await pilot.press(key)
        await see(pilot, "– confirmed" if key == "f2" else "– set aside")
        assert "YES charts" not in screen_of(app)
    assert [finding.value for finding in session.chart.on(208)] == [depth]


async def test_doubts_that_one_answer_settles_are_asked_as_one():
    session = session_of(phrases=["208 pocket 6", "109"])
    session.hear(Hypothesis("208 pocket 7", trust="doubtful", reason="Was that 208?", engine="x"))
    session.type_text("furcation 2")
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "heard  “208 pocket 7” · “furcation 2”")
        await see(pilot, "YES charts  208: pocket 7 mm, furcation 2")


async def test_other_doubts_are_counted():
    session = session_of(phrases=["208 pocket 6", "109 pocket 5"])
    session.type_text("208 pocket 7")
    session.type_text("109 pocket 6")
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "? 109 has pocket 5 mm. Replace by pocket 6 mm?")
        await see(pilot, "1 more after this")
        await pilot.press("f2")
        await see(pilot, "? 208 has pocket 6 mm. Replace by pocket 7 mm?")


async def test_a_clicked_tooth_is_taken_in_hand():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.pause()
        place = app.query_one(Mouth).place_of(409)
        await pilot.click(Mouth, offset=(place.column + 1, place.line + 1))
        await see(pilot, "[409]")
        await pilot.press(*"normal", "enter")
        await pilot.pause()
    assert session.chart.charted_teeth == {409}


async def test_a_click_beside_the_teeth_does_nothing():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.click(Mouth, offset=(1, 1))
        await pilot.pause()
    assert not session.events


async def test_the_keys_can_be_clicked():
    session = session_of(phrases=["208 calculus 2"])
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.pause()
        await pilot.click(Keys, offset=(screen_of(app).splitlines()[-1].index("undo"), 0))
        await see(pilot, "taken back")


async def test_what_looks_like_markup_is_shown_as_it_is():
    listening = Listening()
    app = app_of(session_of(animal="[b]Mila[/b]"), listening)
    async with app.run_test(size=LARGE) as pilot:
        await enter(pilot, "[red]missing[/red] [@click=app.quit]x[/]")
        listening.says(Partial("[blink]two"), Stopped("[i]No microphone.[/i]"))
        await see(pilot, "“[red]missing[/red] [@click=app.quit]x[/]”")
        await see(pilot, "[b]Mila[/b], dog")
        await see(pilot, "[i]No microphone.[/i]")


async def test_control_characters_are_made_visible():
    app = app_of(session_of(animal="Mi\x1b[31mla\u202e"))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "Mi␛[31mla⟨U+202E⟩, dog")


async def test_without_a_listener_there_is_only_typing():
    app = app_of(session_of())
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "TYPING ONLY")


async def test_an_utterance_is_seen_coming_and_charted():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "GETTING READY")
        listening.says(Level(-18.0, False), Partial("two oh eight calc"))
        await see(pilot, "● LISTENING")
        await see(pilot, "-18 dBFS")
        await see(pilot, "» two oh eight calc …")
        listening.says(Partial(""), understood("two oh eight calculus two"))
        await see(pilot, "✓ charted  “two oh eight calculus two”")
        assert "» " not in screen_of(app)
    heard = session.heard[0].what
    assert (heard.file, heard.start_s, heard.end_s) == ("one.wav", 1.5, 2.5)
    assert session.chart.charted_teeth == {208}


async def test_doubtful_words_are_asked_about():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(understood("two oh eight missing", trust="doubtful", reason="Was that it?"))
        await see(pilot, "? Was that it?")
        await see(pilot, "waits for yes or no")
        assert not session.chart.findings
        listening.says(understood("yes"))
        await see(pilot, "gone")
    assert session.chart.charted_teeth == {208}


async def test_clipping_is_said_in_a_word():
    listening = Listening()
    app = app_of(session_of(), listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-1.0, True), Level(-40.0, False))
        await see(pilot, "CLIPPING")
        await see(pilot, "-1 dBFS")


async def test_a_problem_is_said_and_typing_goes_on():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False), Stopped("The microphone is gone: plug it in."))
        await see(pilot, "! Not listening any more: The microphone is gone: plug it in.")
        await see(pilot, "✗ NOT LISTENING")
        await pilot.press(*"208 normal", "enter")
        await see(pilot, "✓ charted  “208 normal”")
        await pilot.press("f5")
        await see(pilot, "GETTING READY")
        assert "plug it in" not in screen_of(app)
    assert len(listening.made) == 2


async def test_a_source_that_ends_is_no_problem():
    listening = Listening()
    app = app_of(session_of(), listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False), Stopped())
        await see(pilot, "SOUND HAS ENDED")
        await pilot.press("f5")
    assert len(listening.made) == 1


async def test_a_listener_that_cannot_be_made_is_a_problem_said():
    def listen(tell):
        raise DictateError("No microphone is connected: plug one in.")

    app = app_of(session_of(), listen)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "No microphone is connected: plug one in.")


async def test_the_listener_is_stopped_at_the_end():
    listening = Listening()
    app = app_of(session_of(), listening)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+q")
    assert listening.made[0].calls == ["start", "stop", "join"]


async def test_where_saving_fails_nothing_changes_and_the_words_stay():
    full = []

    def save(events):
        if full:
            raise DictateError("The disk is full: free some space.")

    session = session_of(phrases=["208 calculus 2"], save=save)
    before = session.chart
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        full.append(True)
        await enter(pilot, "209 missing")
        await see(pilot, "nothing was changed: “209 missing”. The disk is full: free")
        assert session.chart == before
        assert app.query_one(PhraseInput).value == "209 missing"
        assert "[208]" in screen_of(app)
        full.clear()
        await pilot.press("enter")
        await see(pilot, "[209]")
        assert "The disk is full" not in screen_of(app)


async def test_deciduous_teeth_are_shown_when_they_carry_findings():
    app = app_of(session_of(phrases=["504 mobility 2"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "[504]")
        assert "604" not in screen_of(app)
        await pilot.press("ctrl+z")
        await see(pilot, "taken back")
        assert app.query_one(Mouth).place_of(504) is None


async def test_depths_stand_at_their_sites():
    phrases = ["308 probing buccal 3 2 6", "pocket 5 mesial"]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "308")
        shown = re.sub(" +", " ", screen_of(app))
    assert "buccal 3 2 6!" in shown
    assert "lingual – – –" in shown
    assert "no side 5! – –" in shown


async def test_a_large_screen_says_what_the_signs_mean():
    app = app_of(session_of(phrases=["208 calculus 2 UCF"]))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "C calculus index, 0 to 4")
        await see(pilot, "UCF uncomplicated crown fracture")


async def test_the_light_theme_and_back():
    app = app_of(session_of())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("f6")
        assert not app.current_theme.dark
        await pilot.press("f6")
        assert app.current_theme.dark


@pytest.mark.parametrize(
    "phrases, state, signs",
    [
        ([], "untouched", ("·",)),
        (["208 normal"], "normal", ("✓",)),
        (["208 missing"], "missing", ("gone",)),
        (["208", "skip"], "skipped", ("skip",)),
        (["208 calculus 2 pocket 6 mesial pocket 3 distal"], "found", ("P6", "C2")),
        (["208 mobility 0 pocket 6"], "found", ("P6", "M0")),
        (["208 furcation 2 resorption 4a"], "found", ("TR4a", "F2")),
        (["208 UCF gingivitis 2"], "found", ("UCF", "G2")),
    ],
)
def test_the_state_of_a_tooth_in_signs(phrases, state, signs):
    shown = state_of(session_of(phrases=phrases).chart, 208)
    assert (shown.state, shown.signs) == (state, signs)


@pytest.mark.parametrize(
    "width, lines, rows",
    [
        (4, 1, ["UCF…"]),
        (4, 2, ["UCF", "P6…"]),
        (4, 3, ["UCF", "P6", "C2"]),
        (9, 1, ["UCF P6 C2"]),
        (2, 1, ["U…"]),
    ],
)
def test_signs_that_find_no_room_leave_a_mark(width, lines, rows):
    assert fit(["UCF", "P6", "C2"], width, lines) == rows


def test_three_depths_along_a_side_are_read_as_one():
    findings = session_of(phrases=["208 probing palatal 2 3 6 mobility 1"]).chart.on(208)
    assert finding_words(findings) == ["pocket 2 3 6 mm palatal", "mobility 1"]
