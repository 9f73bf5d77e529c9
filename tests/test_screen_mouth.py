import re

import pytest

from dictate.chart.anatomy import anatomy_of
from dictate.listening import Stopped
from dictate.screen.mouth import Mouth
from dictate.screen.mouth_layout import lay_out
from dictate.screen.signs import fit, state_of
from dictate.screen.teeth_words import finding_words
from tests.screen_pilot import LARGE, SMALL, Listening, app_of, screen_of, see, session_of


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
