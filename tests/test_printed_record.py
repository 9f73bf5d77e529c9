"""The record as a PDF: its text, its pages and what it says of itself."""

import io
from datetime import UTC, datetime, timedelta, timezone

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.events import Closed, Reopened
from dictate.documents.practice import Practice
from dictate.documents.printed_record import record_pdf
from dictate.documents.typeset import compiler, pdf
from dictate.report.page import html_page
from dictate.report.record import record_of
from dictate.report.standing import standing
from tests.documents import (
    HOSTILE_LINES,
    hostile_record,
    ordinary_dog,
    pages_of,
    printed_by_a_browser,
    text_of,
)
from tests.test_visit_page import visit

A4_POINTS, LETTER_POINTS = (595, 842), (612, 792)


@pytest.fixture(scope="module")
def dog():
    return ordinary_dog()


@pytest.fixture(scope="module")
def printed(dog):
    return record_pdf(dog, practice=Practice(name="Larkmere Animal Clinic"))


def test_an_ordinary_mouth_fits_on_two_pages(printed):
    assert len(pages_of(printed)) == 2


def test_every_page_names_the_animal_the_case_and_its_number(printed):
    for number, page in enumerate(pages_of(printed), start=1):
        assert page.startswith("Odo case odo-1 Dental record")
        assert f"page {number} of 2" in page


@pytest.mark.parametrize(
    "words",
    [
        "Larkmere Animal Clinic",
        "Draft: not closed",
        "Species dog",
        "calculus, plaque and gingivitis: 0 to 4",
        "The tool proposes, the licensed clinician decides; local rules apply.",
        "42 of 42 permanent teeth charted",
        "Mandibular lymph node, left: enlarged",
        "Covered by “head examination normal”, not stated one by one:",
        "Mass, left lower lip: 4 × 6 mm",
        "108 – 4 6",
        "208 – – – – – – Fracture: complicated crown fracture; Pulp exposed",
        "PD3 ? Stage 2 furcation. (b)",
        "(b) No percentage: root length in mm or bone loss in % from a radiograph.",
        "Present, normal:",
        "208: Periapical lucency",
        "304 Extraction",
        "208: Extracted, surgical (open); Site sutured",
        "Recorded as given, not advised: Regional block, left: infraorbital",
        "ask the owner about chewing (typed)",
        "Left: ",
        "Clinician Signature Date",
    ],
)
def test_the_record_says(printed, words):
    assert words in text_of(printed)


def test_what_was_accepted_stands_in_the_plan_once(printed):
    assert text_of(printed).count("304 Extraction") == 1


def test_a_tooth_is_found_in_one_row_with_stage_and_reason(printed):
    assert "308 – – – – – – 1 Furcation stage 2 PD3 ? Stage 2 furcation. (b)" in text_of(printed)


@pytest.mark.parametrize(("paper", "points"), [("a4", A4_POINTS), ("letter", LETTER_POINTS)])
def test_the_paper_is_the_one_asked_for(dog, paper, points):
    page = pypdf.PdfReader(io.BytesIO(record_pdf(dog, paper))).pages[0]
    assert (round(float(page.mediabox.width)), round(float(page.mediabox.height))) == points


def test_it_fits_two_pages_of_letter_paper_too(dog):
    assert len(pages_of(record_pdf(dog, "letter"))) == 2


def test_the_content_hash_is_in_the_footer_of_every_page(dog):
    assert len(dog.content_hash.split()) == 8
    assert all(dog.content_hash in page for page in pages_of(record_pdf(dog)))


def test_the_file_says_what_it_is_and_can_be_read_aloud(printed):
    reader = pypdf.PdfReader(io.BytesIO(printed))
    assert reader.metadata.title == "Dental record: Odo, case odo-1"
    assert reader.metadata.author == "Dr. Ada Lind"
    assert "veterinary dentistry" in reader.metadata["/Keywords"]
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    metadata = root["/Metadata"].get_data().decode()
    assert "pdfuaid:part>1<" in metadata.replace(" ", "")
    assert "pdfaid:part>2<" in metadata.replace(" ", "")


def test_the_drawing_has_words_for_those_who_do_not_see_it(printed):
    assert b"The teeth of the dog with the findings that the table lists" in _uncompressed(printed)


def _uncompressed(made):
    reader = pypdf.PdfReader(io.BytesIO(made))
    found = []
    for number in range(1, len(reader.xref_objStm) + len(reader.xref.get(0, {})) + 1):
        each = reader.get_object(number)
        if isinstance(each, dict) and "/Alt" in each:
            found.append(str(each["/Alt"]).encode())
    return b"\n".join(found)


def test_the_same_record_gives_the_same_file(dog):
    assert record_pdf(dog) == record_pdf(dog)


def test_its_time_is_that_of_the_last_entry(dog):
    made = pypdf.PdfReader(io.BytesIO(record_pdf(dog))).metadata.creation_date
    assert made == dog.events[-1].time


def test_a_time_to_the_microsecond_in_any_zone_will_do(dog):
    time = datetime(2026, 5, 4, 10, 2, 3, 456789, tzinfo=timezone(timedelta(hours=5, minutes=45)))
    record = dog.model_copy(update={"events": (dog.events[0].model_copy(update={"time": time}),)})
    made = pypdf.PdfReader(io.BytesIO(record_pdf(record))).metadata.creation_date
    assert made == time.replace(microsecond=0)


def test_only_the_fonts_inside_typst_are_used(printed):
    fonts = {
        str(font.get_object()["/BaseFont"]).split("+")[-1]
        for page in pypdf.PdfReader(io.BytesIO(printed)).pages
        for font in page["/Resources"].get("/Font", {}).values()
    }
    assert fonts
    assert all(font.startswith("LibertinusSerif") for font in fonts)


def test_a_closed_record_says_by_whom_and_when():
    session = visit("208 calculus 2")
    events = list(session.events)
    closed = (
        events[-1]
        .model_copy(update={"sequence": len(events) + 1, "utterance": len(events) + 1})
        .model_copy(update={"what": Closed(by="Dr. Ada Lind")})
    )
    record = record_of(session.case, [*events, closed])
    words = "Closed as final by Dr. Ada Lind on 2026-05-04 08:02:00 UTC+00:00"
    assert standing(record) == words
    assert words in text_of(record_pdf(record))
    later = closed.time + timedelta(minutes=5)
    opened = closed.model_copy(
        update={
            "sequence": closed.sequence + 1,
            "utterance": closed.sequence + 1,
            "time": later,
            "what": Reopened(),
        }
    )
    again = record_of(session.case, [*events, closed, opened])
    assert standing(again).startswith("Draft: not closed. Opened again on 2026-05-04 08:07:00")


def test_a_visit_without_anything_charted_is_printed_as_that():
    session = visit()
    text = text_of(record_pdf(record_of(session.case, session.events)))
    assert "No findings are charted." in text
    assert "0 of 42 permanent teeth charted" in text
    assert "Nothing is recorded of the soft tissue." in text


@pytest.mark.parametrize("line", HOSTILE_LINES)
def test_hostile_text_comes_out_as_text(line):
    text = text_of(record_pdf(hostile_record(line)))
    shown = " ".join(line.replace("\u202e", "⟨U+202E⟩").replace("\x1b", "⟨U+241B⟩").split())
    assert text.count(shown) >= 3


def test_a_name_in_letters_that_no_font_has_is_spelled_out():
    """A private letter is in no font: better a number than an empty box."""
    text = text_of(record_pdf(hostile_record("Od\ue000o")))
    assert "Od⟨U+E000⟩o" in text


def test_a_name_in_another_script_is_not_lost():
    text = text_of(record_pdf(hostile_record("Мила Ωμέγα")))
    assert "Мила Ωμέγα" in text


@settings(deadline=None, max_examples=15)
@given(st.text(max_size=60).filter(lambda text: text.strip()))
def test_whatever_a_note_says_the_record_can_be_printed(line):
    assert record_pdf(hostile_record(line)).startswith(b"%PDF-")


def test_a_browser_prints_the_page_with_animal_case_and_number_on_every_page(tmp_path):
    line = '"; } </style><script>x</script>'
    pages = pages_of(printed_by_a_browser(html_page(hostile_record(line)), tmp_path))
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert f"{line}, case odo-1" in page
        assert f"page {number} of {len(pages)}" in page
        assert "Draft: not closed" in page


def test_a_template_reads_no_file_outside_its_folder():
    with pytest.raises(RuntimeError):
        compiler(False).compile(b'#read("/../printed_record.py")', format="pdf")


def test_the_drawing_is_in_the_font_of_the_page():
    made = pdf("record", {**_smallest()}, _svg(), datetime(2026, 5, 4, tzinfo=UTC))
    assert "upper jaw" in text_of(made)


def _svg():
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" font-family="Helvetica" viewBox="0 0 100 50">'
        '<text x="10" y="20" font-size="9">upper jaw</text></svg>'
    )


def _smallest():
    from dictate.documents.printed_record import record_data

    session = visit()
    return record_data(record_of(session.case, session.events), "a4", Practice())
