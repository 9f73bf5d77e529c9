"""The letter of referral, and the text that a person edits before it is printed."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.documents.draft import (
    Block,
    Draft,
    blocks_of,
    draft_text,
    heading,
    one_line,
    paragraph,
    point,
    read_draft,
    write_draft,
)
from dictate.documents.letter import MOST_TEETH, Wanted, letter_blocks
from dictate.documents.practice import Practice
from dictate.documents.text_document import text_html, text_pdf, write_text_documents
from dictate.errors import DictateError
from dictate.report.record import record_of
from tests.documents import (
    HOSTILE_LINES,
    hostile_record,
    ordinary_dog,
    pages_of,
    printed_by_a_browser,
    text_of,
)
from tests.test_page import Page
from tests.test_visit_page import visit

WANTED = Wanted("Dr. Imre Halloway", "Root canal treatment of 304", "", date(2026, 5, 6))
PRACTICE = Practice(name="Larkmere Animal Clinic", telephone="01632 960 112")


@pytest.fixture(scope="module")
def dog():
    return ordinary_dog()


@pytest.fixture(scope="module")
def blocks(dog):
    return letter_blocks(dog, WANTED)


def letter(record, blocks, **how):
    return text_pdf("letter", record, Draft(blocks, **how), "a4", PRACTICE)


def words(blocks):
    return "\n".join(block.text for block in blocks)


@pytest.mark.parametrize(
    "said",
    [
        "6 May 2026",
        "To Dr. Imre Halloway",
        "About Odo, dog, Beagle, 8 years, 14.2 kg, examined on 4 May 2026; our case odo-1",
        "Root canal treatment of 304",
        "308, left mandibular fourth premolar: PD3 (provisional); furcation stage 2",
        "108, right maxillary fourth premolar: PD2 (provisional); pocket up to 6 mm distobuccal",
        "complicated crown fracture; pulp exposed; periapical lucency",
        "mandibular lymph node left: enlarged",
        "mass left lower lip: 4 × 6 mm",
        "208: Extracted, surgical (open); Site sutured",
        "Agreed, not yet done: 304 Extraction",
        "Please examine the animal",
    ],
)
def test_the_letter_says(blocks, said):
    assert said in words(blocks)


def test_the_gravest_teeth_stand_first(blocks):
    said = words(blocks)
    assert said.index("308, left") < said.index("108, right") < said.index("105, right")
    assert said.index("304, left") < said.index("108, right")


def test_calculus_alone_brings_no_tooth_into_a_letter(blocks):
    assert "409, " not in words(blocks)


def test_a_letter_that_does_not_say_why_is_not_written(dog):
    with pytest.raises(DictateError, match="--why"):
        letter_blocks(dog, WANTED._replace(why=" "))


def test_a_tooth_charted_as_referred_says_why():
    session = visit("304 complicated crown fracture", "go to treatment", "304 referred")
    record = record_of(session.case, session.events)
    said = words(letter_blocks(record, WANTED._replace(why="")))
    assert "Charted as referred: 304 (left mandibular canine)." in said


def test_teeth_that_a_letter_has_no_room_for_are_named_at_least():
    session = visit("all teeth mobility 1")
    said = words(letter_blocks(record_of(session.case, session.events), WANTED))
    assert said.count("mobility stage 1") == MOST_TEETH
    named = said.split("Findings on ")[1].split(" too: see the dental record.")[0]
    assert len(named.split(", ")) == 42 - MOST_TEETH


def test_it_is_one_page_and_a_drawing(dog, blocks):
    pages = pages_of(letter(dog, blocks))
    assert len(pages) == 2
    assert "With kind regards, Dr. Ada Lind" in pages[0]
    assert "The mouth of Odo, case odo-1" in pages[1]
    assert all("Odo case odo-1 Letter of referral" in page for page in pages)


def test_a_letter_with_as_many_teeth_as_it_takes_is_one_page_and_a_drawing():
    session = visit("all teeth mobility 1", "all teeth pocket 6 buccal")
    record = record_of(session.case, session.events)
    assert len(pages_of(letter(record, letter_blocks(record, WANTED)))) == 2


def test_the_page_for_a_browser_has_the_same_words(dog, blocks):
    page = Page(text_html("letter", dog, Draft(blocks), "a4", PRACTICE)).text()
    assert all(" ".join(block.text.split()) in page for block in blocks)


def test_a_browser_prints_the_letter_on_two_pages(dog, blocks, tmp_path):
    page = text_html("letter", dog, Draft(blocks), "a4", PRACTICE)
    pages = pages_of(printed_by_a_browser(page, tmp_path))
    assert len(pages) == 2
    assert all("Odo, case odo-1" in each for each in pages)
    assert "page 2 of 2" in pages[1]


@pytest.mark.parametrize("line", HOSTILE_LINES)
def test_hostile_words_come_out_as_text(line):
    record = hostile_record(line)
    blocks = letter_blocks(record, Wanted(line, line, line, date(2026, 5, 6)))
    shown = " ".join(line.replace("\u202e", "⟨U+202E⟩").replace("\x1b", "⟨U+241B⟩").split())
    assert text_of(letter(record, blocks)).count(shown) >= 3
    page = Page(text_html("letter", record, Draft(blocks), "a4", PRACTICE))
    assert not {"script", "img"} & set(page.tags)
    assert not page.unbalanced


def test_an_edited_text_is_printed_as_it_was_edited(dog, blocks, tmp_path):
    path = tmp_path / "letter.md"
    write_draft(path, "letter", dog, blocks)
    path.write_text(path.read_text().replace("Dear colleague,", 'Dear Imre, #read("x") <b>'))
    draft = read_draft(path, "letter", dog)
    text = text_of(letter(dog, draft.blocks, edited=True))
    assert 'Dear Imre, #read("x") <b>' in text
    assert "The text of this page was edited by a person." in text


def test_what_was_drafted_and_not_edited_is_the_same_letter(dog, blocks, tmp_path):
    path = tmp_path / "letter.md"
    write_draft(path, "letter", dog, blocks)
    assert read_draft(path, "letter", dog).blocks == blocks


texts = st.text(min_size=1, max_size=80).map(one_line).filter(bool)


@settings(deadline=None, max_examples=200)
@given(st.lists(st.builds(Block, st.sampled_from(["heading", "point", "text"]), texts)))
def test_whatever_a_text_says_it_is_read_as_it_was_written(blocks):
    record = hostile_record("Odo")
    lines = draft_text("letter", record, blocks).splitlines()[1:]
    assert blocks_of(lines) == blocks


def test_lines_that_an_editor_wrapped_are_one_paragraph():
    lines = ["## Why", "One sentence", "and its end.", "", "- a point", "  goes on", "- another"]
    assert blocks_of(lines) == [
        heading("Why"),
        paragraph("One sentence and its end."),
        point("a point goes on"),
        point("another"),
    ]


def test_a_draft_is_never_written_over_a_file(dog, blocks, tmp_path):
    path = tmp_path / "letter.md"
    path.write_text("mine")
    with pytest.raises(DictateError, match="there already"):
        write_draft(path, "letter", dog, blocks)
    assert path.read_text() == "mine"


def test_a_draft_is_for_its_owner_alone(dog, blocks, tmp_path):
    path = tmp_path / "letter.md"
    write_draft(path, "letter", dog, blocks)
    assert path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("first", "why"),
    [
        ("[letter of case mirre-2 after 3 entries]", "was drafted for case mirre-2, not odo-1"),
        ("[sheet of case odo-1 after 3 entries]", "is a sheet, not a letter"),
        ("[letter of case odo-1 after 3 entries]", "has changed since"),
        ("Dear colleague,", "lacks its first line"),
        ("", "lacks its first line"),
    ],
)
def test_a_draft_of_something_else_is_not_printed(dog, tmp_path, first, why):
    path = tmp_path / "letter.md"
    path.write_text(f"{first}\n\nText.\n")
    with pytest.raises(DictateError, match=why):
        read_draft(path, "letter", dog)


def test_a_draft_of_a_case_that_grew_can_be_waved_through(dog, tmp_path):
    path = tmp_path / "letter.md"
    path.write_text("[letter of case odo-1 after 3 entries]\n\nText.\n")
    draft = read_draft(path, "letter", dog, although_changed=True)
    assert draft.blocks == [paragraph("Text.")]


def test_files_have_names_of_their_own_and_are_for_their_owner_alone(dog, blocks, tmp_path):
    folder = tmp_path / "out"
    paths = write_text_documents("letter", dog, Draft(blocks), folder)
    assert [path.name for path in paths] == ["letter.pdf", "letter.html"]
    assert {path.stat().st_mode & 0o777 for path in paths} == {0o600}
    assert folder.stat().st_mode & 0o777 == 0o700
