import pytest
from textual.events import Key

from dictate.chart.finding import Finding
from dictate.errors import DictateError
from dictate.listening.listener import Partial, Stopped
from dictate.screen.entry import PhraseInput
from dictate.screen.keys import Keys
from dictate.screen.mouth import Mouth
from dictate.speech.recogniser import DoubtfulWord, Hypothesis
from tests.screen_pilot import LARGE, SMALL, Listening, app_of, enter, screen_of, see, session_of


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
    async with app.run_test(size=LARGE) as pilot:
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


async def test_the_light_theme_and_back():
    app = app_of(session_of())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("f6")
        assert not app.current_theme.dark
        await pilot.press("f6")
        assert app.current_theme.dark


@pytest.mark.parametrize(
    "answer, since, depth",
    [
        ("f2", "– confirmed", 5),
        ("f9", "– confirmed,", 9),
        ("f12", "– confirmed,", 4),
        ("f3", "– set aside", None),
    ],
)
async def test_a_doubtful_word_is_settled_by_the_key_of_its_reading(answer, since, depth):
    session = session_of(phrases=["109 calculus 1"])
    session.hear(
        Hypothesis(
            "two oh eight calculus two pocket five",
            trust="doubtful",
            reason="“five” or “nine”?",
            engine="fake",
            doubtful_words=(DoubtfulWord(6, ("nine", "four")),),
        )
    )
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "? “five” or “nine”?")
        await see(pilot, "heard  “pocket five”")
        await see(pilot, "YES charts  208: pocket 5 mm")
        await see(pilot, "or 2 charts  208: pocket 9 mm · say “the second”, press F9 or type 2")
        await see(pilot, "or 3 charts  208: pocket 4 mm · say “the third”, press F12 or type 3")
        await see(pilot, "✓ charted  “two oh eight calculus two")
        await pilot.press(answer)
        await see(pilot, since)
    values = [finding.value for finding in session.chart.on(208) if finding.kind == "pocket"]
    assert values == ([] if depth is None else [depth])


async def test_a_reading_is_chosen_by_typing_its_number():
    session = session_of(phrases=["208 calculus 2"])
    doubtful = (DoubtfulWord(1, ("nine",)),)
    session.hear(
        Hypothesis("pocket five", trust="doubtful", engine="fake", doubtful_words=doubtful)
    )
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await enter(pilot, "2")
        await see(pilot, "208: pocket 9 mm")
    assert [finding.value for finding in session.chart.on(208)] == [2, 9]


async def press_at_once(pilot, keys):
    """Press keys faster than the program takes them: Enter is \\r, backspace \\b."""
    names = {"\r": "enter", "\b": "backspace"}
    line = pilot.app.query_one(PhraseInput)
    for key in keys:
        line.post_message(Key(names.get(key, key), key))
    await pilot.pause()


async def test_what_is_typed_while_a_phrase_is_being_saved_is_the_next_phrase():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await press_at_once(pilot, "310 calculus 2\r103 calculus 4\b3\r20")
        await see(pilot, "“103 calculus 3”")
        assert [event.what.text for event in session.heard] == ["310 calculus 2", "103 calculus 3"]
        assert app.query_one(PhraseInput).value == "20"


async def test_a_phrase_that_was_not_saved_is_given_back_after_what_was_typed_since():
    def save(events):
        raise DictateError("The disk is full: free some space.")

    app = app_of(session_of(save=save))
    async with app.run_test(size=SMALL) as pilot:
        await press_at_once(pilot, "310 calculus 2\r20")
        await see(pilot, "nothing was changed: “310 calculus 2”.")
        assert app.query_one(PhraseInput).value == "20"
        await pilot.press("up")
        assert app.query_one(PhraseInput).value == "310 calculus 2"
