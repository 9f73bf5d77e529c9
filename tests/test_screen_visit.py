"""The parts of a visit on the screen. How the screen looks is our own: no source."""

import pytest

from dictate.chart.events import CONTEXTS, TeethChosen
from dictate.grammar.spoken import spoken_languages
from dictate.listening.listener import Level, Partial
from dictate.screen.account import latest_accounts, teeth_asked
from dictate.screen.happenings import statement_words
from dictate.screen.keys import Keys
from dictate.screen.mouth import Mouth
from dictate.screen.mouth_layout import lay_out
from dictate.screen.parts import PARTS, next_part
from dictate.screen.sections import unspoken
from dictate.screen.signs import counted, signs_of
from dictate.screen.status import Status
from dictate.screen.teeth_words import teeth_words
from tests.screen_pilot import (
    LARGE,
    SMALL,
    Listening,
    app_of,
    enter,
    screen_of,
    see,
    session_of,
    understood,
)


def became(*phrases, species="dog"):
    session = session_of(species, phrases)
    return latest_accounts(session.events, 1, session.chart.anatomy)[0].result


@pytest.mark.parametrize("context", CONTEXTS)
def test_what_is_said_to_go_to_a_part_leads_there_from_every_part(context):
    words = PARTS[context].go_to.split()
    assert all(spoken_languages()[each].allows(words) for each in CONTEXTS)
    assert session_of(phrases=[PARTS[context].go_to]).chart.context == context


@pytest.mark.parametrize("context", CONTEXTS)
def test_what_the_line_suggests_is_understood_in_its_part(context):
    session = session_of(phrases=[PARTS[context].go_to])
    assert session.type_text(PARTS[context].example).outcome == "charted"


async def test_a_key_goes_through_the_parts_in_the_order_of_a_visit():
    session = session_of()
    app = app_of(session)
    seen = []
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, " CHARTING ")
        for _ in CONTEXTS:
            await pilot.press("f4")
            await pilot.pause()
            seen.append(session.chart.context)
            assert PARTS[session.chart.context].title.upper() in screen_of(app).splitlines()[0]
    assert seen == ["radiographs", "treatment", "awake", "soft_tissue", "charting"]
    assert session.heard[0].what.text == "go to radiographs"


async def test_a_click_on_the_part_goes_to_the_next_one():
    session = session_of()
    app = app_of(session)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.click(Status, offset=(3, 0))
        await see(pilot, "RADIOGRAPHS")
        await pilot.click(Status, offset=(40, 0))
        await pilot.pause()
    assert session.chart.context == "radiographs"


async def test_every_key_stands_on_the_keys_line_of_a_small_screen():
    app = app_of(session_of())
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "F4 part")
        line = screen_of(app).splitlines()[-1]
        assert len(app.query_one(Keys)._lines(78)) == 1
    for key in ("F1", "F2", "F3", "F4", "F7", "^Z", "^Y", "^←", "^→", "^Q"):
        assert key in line


@pytest.mark.parametrize("dentition", ["deciduous", "mixed"])
@pytest.mark.parametrize("animal", ["Mila", "A name that is far too long for the line"])
async def test_a_dentition_that_is_not_permanent_is_named_at_the_top(dentition, animal):
    app = app_of(session_of(phrases=[f"{dentition} dentition"], animal=animal))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, f"CHARTING: {dentition} dentition")
        top = screen_of(app).splitlines()[0]
    assert ", dog" in top and "charted" in top and "TYPING ONLY" in top


async def test_the_line_suggests_what_belongs_to_the_part():
    session, listening = session_of(phrases=["go to awake examination"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False))
        await see(pilot, "say what you see of head and mouth")
        await see(pilot, "type what you would say: left lymph node enlarged")
        listening.says(understood("go to charting"))
        await see(pilot, "say a tooth or a finding")


async def test_a_note_that_is_due_is_said_at_the_top_and_kept_from_the_voice():
    session, listening = session_of(phrases=["208"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False), understood("take a note"))
        await see(pilot, "CHARTING: taking a note")
        await see(pilot, "say the note now")
        assert listening.made[0].context() == "note"
        listening.says(understood("the owner brushes on sundays"))
        await see(pilot, "note on 208 (Kept as a note, not")
        assert "taking a note" not in screen_of(app)
    assert [note.text for note in session.chart.notes] == ["the owner brushes on sundays"]


async def test_the_listener_is_told_the_part_as_it_changes():
    session, listening = session_of(), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.pause()
        assert listening.made[0].context() == "charting"
        await pilot.press("f4")
        await pilot.pause()
        assert listening.made[0].context() == "radiographs"


async def test_awake_the_panel_tells_what_was_said_covered_and_left():
    app = app_of(session_of(phrases=["go to awake examination", "left lymph node enlarged"]))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "said: left mandibular lymph node enlarged")
        await see(pilot, "mandibular lymph node (right)")
        await see(pilot, "not said yet, mouth: odour")
        await enter(pilot, "ears normal")
        await see(pilot, "said normal: ear")
        await enter(pilot, "head examination normal")
        await see(pilot, "covered as normal: face")
        assert "not said yet, head" not in screen_of(app)


async def test_of_soft_tissue_nothing_is_left_once_it_is_covered():
    app = app_of(session_of(phrases=["go to soft tissue", "mass tongue five millimeters"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "said: tongue mass 5 mm")
        await see(pilot, "not said yet, soft tissues: palate;")
        await enter(pilot, "soft tissue normal")
        await see(pilot, "not said yet: nothing is left")
        await see(pilot, "covered as normal: palate; tonsil")


async def test_a_tooth_seen_awake_stands_beside_the_observations():
    app = app_of(session_of(phrases=["go to awake examination", "208 fractured", "ears normal"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "208 left maxillary fourth premolar")
        await see(pilot, "said normal: ear")


@pytest.mark.parametrize(
    "part, nothing, phrase, words",
    [
        ("radiographs", "radiographic views", "upper left parallel view", "parallel"),
        ("treatment", "regional blocks given", "left infraorbital block", "infraorbital"),
    ],
)
async def test_views_and_blocks_stand_below_the_tooth(part, nothing, phrase, words):
    app = app_of(session_of(phrases=["208 normal", f"go to {part}"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, f"{nothing}: none said")
        await enter(pilot, phrase)
        await see(pilot, "said: ")
        assert words in screen_of(app).split("said: ")[1]
        assert "left maxillary fourth" in screen_of(app)


def test_a_mass_is_not_missed_where_there_is_none():
    assert unspoken(session_of().chart, "soft_tissue") == ("tongue", "palate", "tonsil")


async def test_several_teeth_in_hand_are_all_marked():
    app = app_of(session_of(phrases=["201 to 203 calculus two", "203 gingivitis 1"]))
    async with app.run_test(size=SMALL) as pilot:
        await enter(pilot, "201 to 203")
        await see(pilot, "[201][202][203]")
        await see(pilot, "201–203: 3 teeth in hand")
        await see(pilot, "201, 202: calculus 2")
        await see(pilot, "203: gingivitis 1, calculus 2")


def test_a_row_of_teeth_is_named_by_its_ends_within_a_quadrant():
    anatomy = session_of("cat").chart.anatomy
    assert teeth_words([104, 106, 107], anatomy) == "107–104"
    assert teeth_words([102, 101, 201, 202], anatomy) == "102, 101, 201, 202"
    assert teeth_words([208, 999], anatomy) == "208, 999"


@pytest.mark.parametrize("species, teeth", [("dog", 28), ("cat", 26)])
@pytest.mark.parametrize("size", [SMALL, LARGE])
async def test_a_deciduous_mouth_is_drawn_and_counted(species, teeth, size):
    """28 and 26 deciduous teeth: clinical_facts, species tables (Triadan, Floyd 1991)."""
    session = session_of(species, ["deciduous dentition", "504 mobility 1"])
    app = app_of(session)
    async with app.run_test(size=size) as pilot:
        await see(pilot, "[504]")
        mouth = app.query_one(Mouth)
        assert all(mouth.place_of(tooth) for tooth in session.chart.anatomy.deciduous_teeth)
        assert mouth.place_of(104) is None
        await see(pilot, f"1 of {teeth} ")


async def test_a_permanent_tooth_of_a_deciduous_mouth_is_shown_when_it_carries_a_finding():
    app = app_of(session_of(phrases=["deciduous dentition", "101 normal"]))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "[101]")
        mouth = app.query_one(Mouth)
        assert mouth.place_of(102) is None
        assert mouth.place_of(501).line < mouth.place_of(101).line < mouth.place_of(801).line


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("width", range(60, 240, 13))
def test_no_tooth_of_a_young_mouth_lies_on_another_or_beyond_the_edge(species, width):
    anatomy = session_of(species).chart.anatomy
    layout = lay_out(species, anatomy.permanent_teeth, width, 12, young=True)
    taken = [
        (place.column + column, place.line + line)
        for place in layout.places
        for column in range(place.width)
        for line in range(place.height)
    ]
    assert len(taken) == len(set(taken))
    assert all(0 <= column < width and 0 <= line < layout.height for column, line in taken)
    assert {each.tooth for each in layout.places} == {
        *anatomy.deciduous_teeth,
        *anatomy.permanent_teeth,
    }


def test_in_a_mixed_dentition_a_deciduous_tooth_stands_for_its_place():
    chart = session_of(phrases=["mixed dentition", "504 mobility 1", "105 normal"]).chart
    assert counted(chart) == (2, 42, 0)
    assert signs_of(chart, 104).signs == ("504",)
    assert signs_of(chart, 104).glyph == " "


@pytest.mark.parametrize(
    "phrases, state, signs",
    [
        (["go to radiographs", "206 periapical lucency"], "untouched", ("PAL",)),
        (["go to treatment", "206 scaled"], "untouched", ("SC",)),
        (["206 normal", "go to treatment", "206 scaled"], "normal", ("SC",)),
        (["go to treatment", "206 extracted"], "extracted", ("ext",)),
        (["206 UCF", "go to treatment", "206 extracted"], "extracted", ("ext", "UCF")),
        (["206 missing"], "missing", ("gone",)),
    ],
)
def test_radiographs_and_treatment_make_no_tooth_charted(phrases, state, signs):
    shown = signs_of(session_of(phrases=phrases).chart, 206)
    assert (shown.state, shown.signs) == (state, signs)


def test_a_tooth_that_was_only_treated_is_not_counted():
    assert counted(session_of(phrases=["go to treatment", "206 scaled"]).chart) == (0, 42, 0)
    assert counted(session_of(phrases=["206", "skip", "207 normal"]).chart) == (1, 42, 1)


async def test_signs_never_run_into_the_next_tooth():
    phrases = ["206 normal", "go to treatment", "206 scaled polished", "207 extracted"]
    app = app_of(session_of(phrases=phrases))
    async with app.run_test(size=SMALL) as pilot:
        await see(pilot, "ext")
        lines = screen_of(app).splitlines()
    assert max(len(line) for line in lines) <= 80
    numbers = next(line for line in lines if "208" in line)
    signs = lines[lines.index(numbers) + 1]
    column = numbers.index("207") - 1
    assert "ext" in signs[column : column + 5]
    assert "✓" in signs[column - 5 : column]


@pytest.mark.parametrize(
    "phrases, words",
    [
        (["201 to 203 calculus two"], "201–203: calculus 2"),
        (["201 to 203"], "201–203: 3 teeth in hand"),
        (["left lymph node enlarged"], "left mandibular lymph node enlarged"),
        (["go to soft tissue", "soft tissue normal"], "covered as normal: tongue, palate, tonsil"),
        (["go to radiographs"], "now radiographs"),
        (["deciduous dentition"], "deciduous dentition"),
        (["208 pocket 6 mesial", "change 208 mesial pocket to 4"],
         "208: pocket 4 mm mesial, instead of pocket 6 mm mesial"),
        (["208 pocket 6", "correction 207"], "208: taken back: pocket 6 mm; 207: pocket 6 mm"),
        (["208 missing", "not missing"], "208: taken back: missing"),
        (["208 calculus 2", "clear 208", "yes"], "208: taken back: calculus 2"),
        (["note: brush more"], "note on the visit"),
        (["208", "note: brush more"], "note on 208"),
        (["take a note"], "Say the note now."),
        (["208 calculus 2", "undo"], "taken back: “208 calculus 2”"),
    ],
)  # fmt: skip
def test_what_an_utterance_became_is_told_in_words(phrases, words):
    assert became(*phrases) == words


def test_what_is_left_is_told_as_it_is_said():
    assert became("what's left").startswith("Left: 42 teeth (first 110, last 411) not examined")


def test_decisions_are_told():
    session = session_of(phrases=["208 calculus 2"])
    session.decide([208], "clean", "accepted", "Scaling")
    session.decide([208], "clean", "dismissed")
    results = [each.result for each in latest_accounts(session.events, 2, session.chart.anatomy)]
    assert results[1] == "in the plan for 208"
    assert results[0].startswith("208, not to be done: Scaling above and below the gum margin")


def test_a_doubt_about_clearing_says_what_it_takes_back_and_marks_the_tooth():
    session = session_of(phrases=["208 calculus 2", "clear 208"])
    (doubt,) = session.doubts
    words = statement_words(doubt.heard.statements, session.chart.anatomy)
    assert words == "208: takes back all that is charted"
    assert teeth_asked(session.doubts) == {208}


def test_a_doubt_about_a_range_names_it_once():
    session = session_of(phrases=["202 calculus 1", "201 to 203 calculus 2"])
    (doubt,) = session.doubts
    words = statement_words(doubt.heard.statements, session.chart.anatomy)
    assert words == "201–203: calculus 2"
    assert any(isinstance(event.what, TeethChosen) for event in session.events)


async def test_a_long_answer_that_finds_no_room_is_marked():
    app = app_of(session_of(phrases=["201 to 208 calculus 1", "309 UCF", "what's left"]))
    async with app.run_test(size=(80, 18)) as pilot:
        await see(pilot, "…")
        await see(pilot, "Left: ")


async def test_the_words_so_far_are_seen_in_every_part():
    session, listening = session_of(phrases=["go to awake examination"]), Listening()
    app = app_of(session, listening)
    async with app.run_test(size=SMALL) as pilot:
        listening.says(Level(-30.0, False), Partial("left lymph"))
        await see(pilot, "» left lymph …")
        listening.says(Partial(""), understood("left lymph node enlarged"))
        await see(pilot, "said: left mandibular lymph node")


def test_the_parts_go_round():
    assert [next_part(each) for each in CONTEXTS] == [*CONTEXTS[1:], CONTEXTS[0]]
