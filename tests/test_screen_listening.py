from dictate.errors import DictateError
from dictate.listening.listener import Level, Partial, Stopped
from tests.screen_pilot import (
    SMALL,
    Listening,
    app_of,
    screen_of,
    see,
    session_of,
    understood,
)


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
    def listen(tell, context):
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
