"""What the tests of printed documents share: a record to print, and the text of a PDF."""

import io
import shutil
import subprocess
from datetime import UTC, date, datetime
from pathlib import Path

import pypdf
import pytest

from dictate.chart.case import Case
from dictate.chart.events import Charted, Event, Heard, Noted
from dictate.chart.finding import Finding
from dictate.documents.draft import draft_text
from dictate.documents.letter import Wanted, letter_blocks
from dictate.documents.owner_sheet import sheet_blocks
from dictate.documents.practice import Practice
from dictate.documents.printed_record import record_data
from dictate.documents.typeset import pdf
from dictate.report.record import record_of
from tests.test_visit_page import visit

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)

ORDINARY_VISIT = (
    *("left lymph node enlarged", "head examination normal", "go to awake examination"),
    *("moderate odour", "occlusion normal", "general calculus 2", "general gingivitis 1"),
    *("go to soft tissue", "mass left lower lip 4 by 6 mm pink smooth", "soft tissue normal"),
    *("go to charting", "108 calculus 3", "108 pocket 4 buccal", "108 pocket 6 distobuccal"),
    *("109 calculus 2 gingivitis 2", "105 missing", "204 uncomplicated crown fracture"),
    *("208 complicated crown fracture, pulp exposed", "304 complicated crown fracture"),
    *("308 furcation 2 mobility 1", "309 pocket 5 mesial", "409 calculus 1 gingivitis 1"),
    *("rest of the mouth normal", "note: ask the owner about chewing"),
    *("go to radiographs", "full mouth radiographs", "208 periapical lucency"),
    *("go to treatment", "left infraorbital block bupivacaine 0.5 ml"),
    *("208 surgical extraction, sutured", "308 root planed open"),
    *("rest of the mouth scaled, polished",),
)

EXPECTED = Path(__file__).resolve().parent / "documents_expected"
NO_DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 150"></svg>'

HOSTILE_LINES = (
    '#read("/etc/passwd") #import "@preview/x:1.0.0": *',
    "*bold* _it_ $x^2$ `raw` = heading @label <label> \\ // comment",
    "</td><script>alert(1)</script>{{ 7*7 }}",
    '=HYPERLINK("x") +1 -1 \'"; } @page { content: none',
    "left\u202eright \x1b[31m red",
)


def ordinary_dog():
    """Return the record of an ordinary mouth: some findings, all of it looked at."""
    of = {"clinician": "Dr. Ada Lind", "animal": "Odo", "id": "odo-1", "breed": "Beagle"}
    more = {"age_years": 8, "weight_kg": 14.2, "reason": "Bad breath"}
    session = visit(*ORDINARY_VISIT, **of, **more)
    session.decide([304], "exposed_pulp", "accepted", "Extraction")
    return record_of(session.case, session.events)


def hostile_record(line):
    """Return a record in which a line stands for whatever people may write."""
    case = Case(id="odo-1", species="dog", opened=OPENED, animal=line[:60], clinician=line[:60])
    found = Finding(tooth=208, kind="referred")
    happenings = (
        Heard(text=line, outcome="charted"),
        Charted(findings=(found, Finding(tooth=208, kind="fracture", value="CCF"))),
        Noted(text=line, verified=True),
        Heard(text=line, outcome="query", reason=line),
    )
    events = [
        Event(sequence=number, utterance=4 if number == 4 else 1, time=OPENED, what=what)
        for number, what in enumerate(happenings, start=1)
    ]
    return record_of(case, events)


def golden_texts():
    """Return the text of each document of the ordinary dog, by the name of its file in
    tests/documents_expected. The mouth's drawing is left out of the record: it has tests of its
    own."""
    dog, practice = ordinary_dog(), Practice(name="Larkmere Animal Clinic")
    wanted = Wanted("Dr. Imre Halloway", "Root canal treatment of 304", "", date(2026, 5, 6))
    made = pdf("record", record_data(dog, "a4", practice), NO_DRAWING, OPENED)
    reader = pypdf.PdfReader(io.BytesIO(made))
    return {
        "record.txt": "\f\n".join(map(_lines, reader.pages)),
        "letter.md": draft_text("letter", dog, letter_blocks(dog, wanted)),
        "sheet.md": draft_text("sheet", dog, sheet_blocks(dog, practice)),
    }


def _lines(page):
    return "".join(f"{line.rstrip()}\n" for line in page.extract_text().splitlines())


def pages_of(made):
    """Return the text of every page of a PDF, its white space reduced to single spaces."""
    reader = pypdf.PdfReader(io.BytesIO(made))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def text_of(made):
    """Return the text of a PDF."""
    return " ".join(pages_of(made))


def printed_by_a_browser(page, folder):
    """Return the PDF that Chromium prints of an HTML page; skip the test where there is none."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        pytest.skip("Chromium is not installed: how the page prints cannot be looked at")
    source, made = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    subprocess.run(
        [
            *(browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"),
            *(f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={made}"),
            source.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    return made.read_bytes()


if __name__ == "__main__":
    EXPECTED.mkdir(exist_ok=True)
    for name, text in golden_texts().items():
        (EXPECTED / name).write_text(text, encoding="utf-8")
