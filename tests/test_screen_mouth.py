import re

import pytest

from dictate.chart.anatomy import anatomy_of
from dictate.listening.listener import Stopped
from dictate.screen.legend import Legend
from dictate.screen.measures import Measure
from dictate.screen.mouth import Mouth
from dictate.screen.mouth_layout import lay_out
from dictate.screen.signs import GLYPHS, fit, signs_of
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
        ([], "untouched", ()),
        (["208 normal"], "normal", ()),
        (["208 calculus 0 pocket 3"], "normal", ("P3", "C0")),
        (["208 missing"], "missing", ("gone",)),
        (["208", "skip"], "skipped", ("skip",)),
        (["208 calculus 1"], "minor", ("C1",)),
        (["208 calculus 2 pocket 6 mesial pocket 3 distal"], "moderate", ("P6", "C2")),
        (["208 mobility 0 pocket 6"], "moderate", ("P6", "M0")),
        (["208 furcation 2 resorption 4a"], "severe", ("TR4a", "F2")),
        (["208 UCF gingivitis 2"], "moderate", ("UCF", "G2")),
        (["208 UCF pocket 9"], "severe", ("P9", "UCF")),
    ],
)
def test_the_state_of_a_tooth_in_signs(phrases, state, signs):
    shown = signs_of(session_of(phrases=phrases).chart, 208)
    assert (shown.state, shown.glyph, shown.signs) == (state, GLYPHS[state], signs)


def test_every_state_has_a_glyph_of_its_own():
    assert len(set(GLYPHS.values())) == len(GLYPHS) == 8


def test_what_a_radiograph_shows_of_an_untouched_tooth_has_the_ink_of_its_gravity():
    phrases = ["go to radiographs", "206 periapical lucency"]
    shown = signs_of(session_of(phrases=phrases).chart, 206)
    assert (shown.glyph, shown.ink) == (GLYPHS["untouched"], "severe")


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


def test_a_cut_never_makes_another_figure():
    assert fit(["P12", "C2"], 3, 1) == ["P…"]
    assert fit(["VBL100"], 5, 1) == ["VBL…"]
    assert fit(["TR4a", "C2"], 4, 1) == ["TR4…"]


MEASURED = {
    "outer depths", "inner depths", "outer recessions", "inner recessions", "stages",
}  # fmt: skip


def laid_out(species, width, height, dentition="permanent"):
    """The layout that the program chooses on a screen of that size."""
    anatomy = anatomy_of(species)
    young = dentition == "deciduous"
    others = anatomy.deciduous_teeth if dentition == "mixed" else ()
    plain, measured = max(9, height * 3 // 10), height * 11 // 20
    return lay_out(species, others, width, plain, young, measured)


SIZES = [(80, 24), (100, 30), (120, 40), (160, 50), (200, 60), (240, 70)]


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("dentition", ["permanent", "deciduous", "mixed"])
@pytest.mark.parametrize("width, height", SIZES)
def test_teeth_and_labels_keep_apart_and_within_the_screen(species, dentition, width, height):
    layout = laid_out(species, width, height, dentition)
    taken = [
        (place.column + column, place.line + line)
        for place in layout.places
        for column in range(place.width)
        for line in range(place.height)
    ]
    taken += [
        (1 + column, label.line) for label in layout.labels for column in range(len(label.words))
    ]
    assert len(taken) == len(set(taken))
    assert all(0 <= column < width and 0 <= line < layout.height for column, line in taken)
    assert (layout.midline, layout.between) not in taken
    assert layout.height <= height - 9


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("dentition", ["permanent", "deciduous", "mixed"])
@pytest.mark.parametrize("width, height", SIZES)
def test_the_mouth_is_seen_in_a_mirror(species, dentition, width, height):
    """A tooth and the one across the midline (101 and 201, 408 and 308) stand as far from it, on
    the same lines, the animal's right on the viewer's left."""
    layout = laid_out(species, width, height, dentition)
    places = {place.tooth: place for place in layout.places}
    other_side = {1: 2, 4: 3, 5: 6, 8: 7}
    rights = [tooth for tooth in places if tooth // 100 in other_side]
    assert len(rights) * 2 == len(places)
    for tooth in rights:
        right, left = places[tooth], places[other_side[tooth // 100] * 100 + tooth % 100]
        assert right.line == left.line
        assert right.column + right.width <= layout.midline < left.column
        assert layout.midline - (right.column + right.width) == left.column - layout.midline - 1
    for quadrant in {tooth // 100 for tooth in rights}:
        here = [places[tooth] for tooth in sorted(rights) if tooth // 100 == quadrant]
        rows = {place.line for place in here}
        for line in rows:
            columns = [place.column for place in here if place.line == line]
            assert columns == sorted(columns, reverse=True)


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("dentition", ["permanent", "deciduous", "mixed"])
@pytest.mark.parametrize("width, height, all_of_it", [(120, 40, False), (200, 60, True)])
def test_a_wide_screen_has_lines_for_what_is_measured(species, dentition, width, height, all_of_it):
    layout = laid_out(species, width, height, dentition)
    arch = (5, 6, 7, 8) if dentition == "deciduous" else (1, 2, 3, 4)
    for place in layout.places:
        shown = MEASURED & set(place.lines)
        if place.tooth // 100 not in arch:
            assert not shown
        elif all_of_it:
            assert shown == MEASURED
        else:
            assert {"outer depths", "inner depths"} <= shown


def test_outer_measurements_face_outwards():
    layout = laid_out("dog", 200, 60)
    lines = {place.tooth: place.lines for place in layout.places}
    assert lines[108][0] == "outer recessions" and lines[108][-1] == "inner recessions"
    assert lines[408][0] == "inner recessions" and lines[408][-1] == "outer recessions"


def test_a_small_screen_has_numbers_and_signs_alone():
    layout = laid_out("dog", 80, 24)
    assert {place.lines for place in layout.places} == {("number", "signs")}
    assert not layout.labels


def line_of(app, tooth, what, number=0):
    """What a line of a tooth shows on the screen."""
    mouth = app.query_one(Mouth)
    place = mouth.place_of(tooth)
    lines = [at for at, each in enumerate(place.lines) if each == what]
    row = screen_of(app).splitlines()[mouth.region.y + place.line + lines[number]]
    return row.ljust(240)[place.column : place.column + place.width]


@pytest.mark.parametrize("size", [LARGE, (200, 60)])
async def test_depths_stand_beside_their_tooth_with_mesial_next_to_the_midline(size):
    """Said from mesial to distal (common practice): 208 is left of the midline, 108 right of it."""
    sides = ["probing buccal 1 2 6", "probing palatal 3 2 5"]
    phrases = [f"{tooth} {side}" for tooth in (208, 108) for side in sides]
    phrases += ["308 probing lingual 1 2 3"]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=size) as pilot:
        await see(pilot, "[308]")
        assert line_of(app, 208, "outer depths").split() == ["1", "2", "6!"]
        assert line_of(app, 108, "outer depths").split() == ["6!2", "1"]
        assert line_of(app, 208, "inner depths").split() == ["3", "2", "5!"]
        assert line_of(app, 308, "inner depths").split() == ["1", "2", "3"]
        assert line_of(app, 308, "outer depths").split() == ["·", "·", "·"]


async def test_two_figures_and_halves_stay_apart_in_narrow_places():
    phrases = [
        "208 probing buccal 12 6 10",
        "yes",
        "209 probing buccal 2 3 3",
        "209 pocket 6.5 palatal",
    ]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=LARGE) as pilot:
        await pilot.pause()
        assert line_of(app, 208, "outer depths").strip() == "9+6!9+"
        assert line_of(app, 209, "outer depths").strip() == "2 3 3"
        assert line_of(app, 209, "inner depths").strip() == "· 6+·"


@pytest.mark.parametrize(
    "value, beyond, room, words",
    [
        (3, False, 2, "3"), (2.5, False, 2, "2½"), (0.5, False, 2, "½"), (6, True, 2, "6!"),
        (12, True, 3, "12!"), (12, True, 2, "9+"), (6.5, True, 3, "6½!"), (6.5, True, 2, "6+"),
        (2.3, False, 3, "2.3"), (2.3, False, 2, "2≈"), (None, False, 2, "·"), (0, False, 2, "0"),
    ],
)  # fmt: skip
def test_how_a_measurement_is_written(value, beyond, room, words):
    assert Measure(value, beyond).written(room) == words


async def test_recession_furcation_and_mobility_have_lines_of_their_own_on_a_large_screen():
    phrases = ["208 furcation 2 mobility 1", "208 recession 2 buccal"]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=(200, 60)) as pilot:
        await see(pilot, "R facial")
        assert line_of(app, 208, "stages").split() == ["F2", "M1"]
        assert line_of(app, 208, "outer recessions").split() == ["·", "2!·"]


async def test_where_no_tooth_is_there_is_nothing_to_measure():
    app = app_of(session_of(phrases=["208 missing", "207"]))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "×gone")
        assert line_of(app, 208, "outer depths").strip() == ""
        assert line_of(app, 207, "outer depths").split() == ["·", "·", "·"]


async def test_the_tooth_in_hand_stands_out_without_colour():
    app = app_of(session_of(phrases=["208 CCF"]))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "[208]")
        mouth = app.query_one(Mouth)
        ink, in_hand = mouth.visual_style, mouth.get_visual_style("mouth--in-hand")
    assert (in_hand.foreground, in_hand.background) == (ink.background, ink.foreground)


RICH = [
    "208 CCF mobility 2 furcation 2 pocket 7 mesial", "207 resorption 4a", "104 attrition",
    "103 missing", "102", "skip", "101 normal", "204 calculus 2 gingivitis 2 plaque 1",
    "404 recession 2 buccal", "304 enlargement 3", "309 discoloured", "409 caries",
    "go to treatment", "208 extracted",
]  # fmt: skip


@pytest.mark.parametrize("size", [LARGE, (200, 60)])
async def test_the_legend_explains_every_glyph_on_the_screen_and_is_not_cut(size):
    session = session_of(phrases=RICH)
    app = app_of(session)
    async with app.run_test(size=size) as pilot:
        await see(pilot, "in hand")
        legend = app.query_one(Legend)
        lines = [legend.render_line(y).text for y in range(legend.size.height)]
        explained = {sign for sign, _ in legend.entries}
        assert not lines[-1].rstrip().endswith(" …")
        text = " ".join(" ".join(lines).split())
        assert all(f"{sign} {meaning}" in text for sign, meaning in legend.entries)
        signs = {signs_of(session.chart, tooth) for tooth in session.chart.anatomy.permanent_teeth}
    glyphs = {glyph for each in signs for glyph in each.glyph}
    assert glyphs <= set(" ".join(explained))
    words = {re.sub(r"[\d.]+[abc]?$", "", sign) for each in signs for sign in each.signs}
    assert words - {"gone", "skip", "ext"} <= explained
