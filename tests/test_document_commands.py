"""The commands report, letter and sheet, as a person runs them."""

import os
import subprocess
import sys

import pytest

from dictate.documents.practice import PRACTICE_FILE, Practice, paper_named, read_practice
from dictate.errors import DictateError
from dictate.store.cases import CaseStore
from tests.documents import ordinary_dog, pages_of, text_of


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    folder = tmp_path_factory.mktemp("data")
    record, store = ordinary_dog(), CaseStore(folder / "cases.sqlite")
    store.add_case(record.case)
    store.append(record.case.id, record.events)
    (folder / PRACTICE_FILE).write_text(
        'name = "Larkmere Animal Clinic"\ntelephone = "01632 960 112"\npaper = "letter"\n'
    )
    return folder


def run(data, *words):
    command = [sys.executable, "-m", "dictate", *map(str, words)]
    environment = os.environ | {"DICTATE_DATA": str(data)}
    return subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120)


def refused(done):
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    return done.stderr


def test_a_report_has_a_pdf_on_the_practices_paper(data, tmp_path):
    done = run(data, "report", "odo-1", "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1].endswith("record.pdf")
    made = (tmp_path / "out" / "record.pdf").read_bytes()
    assert "Larkmere Animal Clinic" in text_of(made)


def test_a_letter_is_drafted_edited_and_printed(data, tmp_path):
    draft, out = tmp_path / "letter.md", tmp_path / "out"
    words = ("--to", "Dr. Imre Halloway", "--why", "Root canal treatment")
    assert run(data, "letter", "odo-1", *words, "--draft", draft).returncode == 0
    assert not out.exists()
    draft.write_text(draft.read_text().replace("Dear colleague", "Dear Imre"))
    done = run(data, "letter", "odo-1", "--from", draft, "--out", out)
    assert done.returncode == 0, done.stderr
    assert "Dear Imre" in text_of((out / "letter.pdf").read_bytes())
    assert "Dear Imre" in (out / "letter.html").read_text()


def test_a_sheet_is_printed_with_the_practices_telephone(data, tmp_path):
    done = run(data, "sheet", "odo-1", "--next", "In two weeks", "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    pages = pages_of((tmp_path / "sheet.pdf").read_bytes())
    assert len(pages) == 2
    assert "Our telephone: 01632 960 112" in " ".join(pages)
    assert "Next visit: In two weeks" in " ".join(pages)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("letter", "odo-1"), "--to"),
        (("letter", "odo-1", "--to", "Dr. Halloway"), "--why"),
        (("letter", "odo-1", "--from", "letter.md", "--to", "Dr. Halloway"), "change it there"),
        (("sheet", "odo-1", "--from", "no-such-file.md"), "could not be read"),
        (("sheet", "odo-1", "--paper", "legal"), "write a4 or letter"),
        (("sheet", "odo-1", "--paper", "legal", "--draft", "x.md"), "write a4 or letter"),
        (("report", "odo-1", "--paper", "legal"), "write a4 or letter"),
        (("sheet", "nobody"), "no case nobody"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(data, words, why):
    assert why in refused(run(data, *words))


def test_a_practice_that_is_not_set_has_no_letterhead(tmp_path):
    assert read_practice(tmp_path) == Practice()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('paper = "legal"', 'paper cannot be \'legal\'; it is "a4" or "letter"'),
        ('nmae = "x"', "there is no key 'nmae'; it may have name, address, telephone, paper"),
        ("name = 3", "name cannot be 3; it is at most 100 plain characters"),
        ('name = "a\\u202eb"', "name cannot be"),
        ("name = ", "is not TOML"),
    ],
)
def test_what_is_wrong_in_the_file_of_the_practice_is_said(tmp_path, text, why):
    (tmp_path / PRACTICE_FILE).write_text(text)
    with pytest.raises(DictateError) as error:
        read_practice(tmp_path)
    assert why in str(error.value)


def test_a_flag_wins_over_the_practices_paper():
    assert paper_named("a4", Practice(paper="letter")) == "a4"
    assert paper_named(None, Practice(paper="letter")) == "letter"
