"""The sheet for the owner: plain words, all that was found, and nothing that was not."""

import re
from xml.etree.ElementTree import fromstring

import pytest

from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import observation_kinds
from dictate.documents.draft import Draft
from dictate.documents.owner_drawing import owner_drawing
from dictate.documents.owner_rules import CONDITIONS, owner_rules
from dictate.documents.owner_sheet import sheet_blocks, sheet_drawing
from dictate.documents.owner_teeth import teeth_in_words
from dictate.documents.practice import Practice
from dictate.documents.text_document import text_html, text_pdf
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

PRACTICE = Practice(name="Larkmere Animal Clinic", telephone="01632 960 112")

ABBREVIATIONS = (
    *{kind.code for kind in finding_kinds().values() if len(kind.code) > 1},
    *{term for kind in finding_kinds().values() for term in kind.terms if term.isupper()},
    *(f"PD{stage}" for stage in range(5)),
    *("PD", "mm", "kg", "mL", "ml", "mg", "e.g.", "i.e.", "etc.", "approx.", "GA", "IV", "NSAID"),
)
DRUGS = (
    *("meloxicam", "carprofen", "robenacoxib", "buprenorphine", "bupivacaine", "lidocaine"),
    *("amoxicillin", "clindamycin", "chlorhexidine", "gabapentin", "tramadol"),
)
JARGON = (
    *("premolar", "molar", "incisor", "maxillary", "mandibular", "periodontal", "gingiv"),
    *("calculus", "extraction", "furcation", "radiograph", "anaesthesia", "pulp", "lesion"),
)


@pytest.fixture(scope="module")
def dog():
    return ordinary_dog()


def sheet(record, **more):
    return sheet_blocks(record, PRACTICE, **more)


def words(blocks):
    return "\n".join(block.text for block in blocks)


def of(*said, **case):
    session = visit(*said, **case)
    return record_of(session.case, session.events)


def everything_said():
    """Every sentence that a sheet may have."""
    rules = owner_rules()
    for sentence in (*rules.found.values(), *rules.done.values()):
        yield from (sentence.one, sentence.many)
    for part in (rules.watch, rules.call, rules.care, rules.next):
        yield from (row.text for row in part.values())


@pytest.mark.parametrize(
    "said",
    [
        "There is a lump in the mouth (left lower lip).",
        "Two teeth are broken so deeply that their living core lies open",
        "There are signs of infection at the root of one tooth (upper left: one cheek tooth).",
        "Marked gum disease: one tooth has lost a good part of its hold",
        "One tooth is looser than it should be (lower left: one cheek tooth).",
        "We took out one tooth (upper left: one cheek tooth).",
        "We closed the gum with stitches at one place.",
        "Some of the treatment that was agreed is still to be done.",
        "The breath smells bad",
        "Our telephone: 01632 960 112",
    ],
)
def test_the_sheet_says(dog, said):
    assert said in words(sheet(dog))


def test_after_an_extraction_soft_food_and_a_watch_for_bleeding_and_swelling():
    """Source: AAHA Dental Care Guidelines 2019, discharge after extractions; from memory."""
    said = words(sheet(of("go to treatment", "208 surgical extraction")))
    assert all(word in said for word in ("soft food", "blood", "swelling", "Do not brush"))


def test_without_an_extraction_nothing_is_said_of_a_wound():
    said = words(sheet(of("208 calculus 1", "go to treatment", "all teeth scaled")))
    assert "wound" not in said
    assert "soft food" not in said
    assert "stitches" not in said


def test_without_treatment_nothing_is_said_of_an_anaesthetic():
    assert "anaesthetic" not in words(sheet(of("208 calculus 1")))


def test_brushing_is_told_in_every_sheet():
    """Daily brushing is the best home care. Source: AAHA 2019, WSAVA 2020; from memory."""
    assert "Brush once a day" in words(sheet(of()))


def test_the_vets_advice_comes_first(dog):
    assert "What your vet tells you about yours comes first." in words(sheet(dog))


def test_what_was_not_examined_is_not_called_sound():
    said = words(sheet(of("208 normal")))
    assert "We found nothing wrong at one tooth." in said
    assert "41 teeth were not examined this time." in said


def test_a_tooth_that_is_normal_in_the_mouth_and_not_on_the_radiograph_is_not_called_sound():
    said = words(sheet(of("208 normal", "go to radiographs", "208 horizontal bone loss 60%")))
    assert "Severe gum disease" in said
    assert "nothing wrong" not in said


def test_a_normal_observation_is_no_finding():
    assert "head or face" not in words(sheet(of("head examination normal")))


def test_a_stage_that_could_be_graver_is_said_so():
    assert "It may be more than is said here." in words(sheet(of("208 pocket 6 mesial")))


def test_a_missing_tooth_whose_root_is_left_is_told_once():
    said = words(sheet(of("208 missing, retained root")))
    assert "A piece of root is left" in said
    assert "One tooth is missing" not in said


def _values(row, terms):
    if row.value == "grade":
        most = 4 if row.most == "scale" else row.most
        return range(1, most + 1)
    return [int(term) if term.isdigit() else term for term in terms] or [None]


@pytest.mark.parametrize("kind", finding_kinds())
def test_no_kind_of_finding_is_lost(kind):
    rules, row = owner_rules(), finding_kinds()[kind]
    for value in _values(row, row.terms):
        named = [
            rule
            for rule in (*rules.found.values(), *rules.done.values())
            if kind in rule.kinds and (not rule.kinds[kind] or value in rule.kinds[kind])
        ]
        silent = kind in rules.unsaid.kinds
        assert named or silent, (kind, value)


@pytest.mark.parametrize("kind", observation_kinds())
def test_no_kind_of_observation_is_lost(kind):
    rules, row = owner_rules(), observation_kinds()[kind]
    normal = {"normal", "scissor"}
    for value in row.terms.keys() - normal or [None]:
        named = [
            rule
            for rule in (*rules.found.values(), *rules.done.values())
            if kind in rule.seen and (not rule.seen[kind] or value in rule.seen[kind])
        ]
        assert named or kind in rules.unsaid.seen, (kind, value)


def test_advice_depends_on_conditions_that_there_are():
    rules = owner_rules()
    for part in (rules.watch, rules.call, rules.care, rules.next):
        assert {name for row in part.values() for name in row.when} <= set(CONDITIONS)


def test_every_sentence_has_a_source():
    rules = owner_rules()
    for part in (rules.found, rules.done, rules.watch, rules.call, rules.care, rules.next):
        assert all(row.source for row in part.values())


@pytest.mark.parametrize("line", list(everything_said()))
def test_no_sentence_has_an_abbreviation_a_drug_or_jargon(line):
    told = re.findall(r"[A-Za-z/.-]+", line)
    assert not set(told) & set(ABBREVIATIONS)
    assert not any(word in line.lower() for word in (*DRUGS, *JARGON))
    assert not re.search(r"\d", line)


def test_the_printed_sheet_has_no_abbreviation(dog):
    text = text_of(text_pdf("sheet", dog, Draft(sheet(dog)), "a4", PRACTICE))
    assert not set(re.findall(r"[A-Za-z/.-]+", text)) & set(ABBREVIATIONS)


def test_sentences_can_be_read_by_an_ordinary_adult():
    """Grade at most 8. Source: Kincaid et al. 1975, the Flesch-Kincaid grade level; syllables are
    counted as groups of vowels, an approximation."""
    text = " ".join(everything_said())
    sentences = len(re.findall(r"[.!?](?: |$)", text))
    said = re.findall(r"[A-Za-z]+", re.sub(r"\{\w+\}", "Odo", text))
    syllables = sum(max(1, len(re.findall("[aeiouy]+", word.lower()))) for word in said)
    grade = 0.39 * len(said) / sentences + 11.8 * syllables / len(said) - 15.59
    assert grade < 8, grade


def test_it_fits_on_two_pages(dog):
    pages = pages_of(text_pdf("sheet", dog, Draft(sheet(dog)), "a4", PRACTICE))
    assert len(pages) == 2
    assert "Call us at once if" in " ".join(pages)
    assert all("Odo case odo-1" in page for page in pages)


def test_a_browser_prints_it_on_two_pages(dog, tmp_path):
    page = text_html("sheet", dog, Draft(sheet(dog)), "letter", PRACTICE)
    made = pages_of(printed_by_a_browser(page, tmp_path))
    assert len(made) == 2
    assert "page 1 of 2" in made[0]


def test_the_numbers_of_the_list_are_those_of_the_drawing(dog):
    listed = [
        block.text
        for block in sheet(dog)
        if block.kind == "point" and re.match(r"\d+: ", block.text)
    ]
    drawn = {
        int(number)
        for text in fromstring(sheet_drawing(dog)).iter("{http://www.w3.org/2000/svg}text")
        for number in re.findall(r"\d+", text.text)
    }
    assert [int(text.split(":")[0]) for text in listed] == list(range(1, len(listed) + 1))
    assert drawn == set(range(1, len(listed) + 1))


@pytest.mark.parametrize(("species", "teeth"), [("dog", 42), ("cat", 30)])
def test_every_tooth_is_drawn_inside_the_drawing(species, teeth):
    svg = fromstring(owner_drawing(species, (), {}, (), ()))
    places = [
        tuple(map(float, re.findall(r"translate\((\S+) (\S+)\)", rect.get("transform"))[0]))
        for rect in svg.iter("{http://www.w3.org/2000/svg}rect")
    ]
    left, top, width, height = map(float, svg.get("viewBox").split())
    assert len(set(places)) == teeth
    assert all(left < x < left + width and top < y < top + height for x, y in places)


@pytest.mark.parametrize(
    ("teeth", "said"),
    [
        ([208], "upper left: one cheek tooth"),
        ([104, 204], "upper right: one long canine tooth; upper left: one long canine tooth"),
        ([301, 302, 309], "lower left: two front teeth and one back cheek tooth"),
        ([704], "lower left: one milk long canine tooth"),
    ],
)
def test_teeth_are_named_in_words_that_owners_know(teeth, said):
    assert teeth_in_words(teeth) == said


@pytest.mark.parametrize("line", HOSTILE_LINES)
def test_a_hostile_name_is_only_a_name(line):
    record = hostile_record(line)
    blocks = sheet(record)
    shown = " ".join(line[:60].replace("\u202e", "⟨U+202E⟩").replace("\x1b", "⟨U+241B⟩").split())
    assert shown in text_of(text_pdf("sheet", record, Draft(blocks), "a4", PRACTICE))
    page = Page(text_html("sheet", record, Draft(blocks), "a4", PRACTICE))
    assert not {"script", "img"} & set(page.tags)


def test_a_name_with_braces_is_not_filled_in():
    assert "{teeth}" in words(sheet(hostile_record("{teeth} {0.__class__}")))


def test_an_animal_without_a_name_is_your_cat():
    said = words(sheet(of("208 calculus 1", species="cat", animal="")))
    assert "Your cat seems to be in great pain" in said


def test_what_was_taken_back_is_not_told():
    said = words(sheet(of("208 complicated crown fracture", "undo", "208 normal")))
    assert "broken" not in said.split("What we did")[0]
