"""dictate export and dictate import, as a user runs them."""

import json
import re
import subprocess
import sys

import pytest

from dictate.report.record import read_json, record_of, write_json
from dictate.store.cases import CaseStore
from tests.fhir_visits import SAID, session_of
from tests.test_cli import assert_one_sentence, dictate
from tests.test_record_versions import VERSION_1


def kept(folder, **case):
    folder.mkdir(exist_ok=True)
    session = session_of(*SAID, **case)
    CaseStore(folder / "cases.sqlite").add_case(session.case, session.events)
    return record_of(session.case, session.events)


def loaded(folder, case="odo-1"):
    return record_of(*CaseStore(folder / "cases.sqlite").load(case))


@pytest.fixture
def exported(tmp_path):
    kept(tmp_path / "here")
    run = dictate("export", "odo-1", "--fhir", str(tmp_path / "odo.json"), data=tmp_path / "here")
    assert (run.returncode, run.stdout) == (0, f"{tmp_path / 'odo.json'}\n")
    return tmp_path / "odo.json"


def test_a_case_goes_out_as_a_bundle_for_its_owner_only(exported):
    assert json.loads(exported.read_text())["resourceType"] == "Bundle"
    assert exported.stat().st_mode & 0o777 == 0o600


def test_a_bundle_becomes_a_case_elsewhere(exported, tmp_path):
    run = dictate("import", str(exported), data=tmp_path / "there")
    assert run.returncode == 0, run.stderr
    assert "odo-1 is imported" in run.stdout
    here, there = loaded(tmp_path / "here"), loaded(tmp_path / "there")
    assert (there.case, there.findings) == (here.case, here.findings)
    assert (tmp_path / "there" / "cases.sqlite").stat().st_mode & 0o777 == 0o600


def test_an_imported_case_can_be_reported_and_assessed(exported, tmp_path):
    dictate("import", str(exported), data=tmp_path / "there")
    out = tmp_path / "out"
    run = dictate("report", "odo-1", "--out", str(out), data=tmp_path / "there")
    assert run.returncode == 0, run.stderr
    assert read_json(out / "record.json") == loaded(tmp_path / "there")
    assert "208 pocket 6 mm mesial" in (out / "findings.csv").read_text()
    assert dictate("assess", "odo-1", data=tmp_path / "there").returncode == 0


def test_a_record_becomes_the_same_case_event_by_event(tmp_path):
    record = kept(tmp_path / "here")
    write_json(record, tmp_path / "record.json")
    run = dictate("import", str(tmp_path / "record.json"), data=tmp_path / "there")
    assert run.returncode == 0, run.stderr
    assert loaded(tmp_path / "there") == record


def test_a_record_of_version_1_is_imported(tmp_path):
    (tmp_path / "old.json").write_text(VERSION_1)
    run = dictate("import", str(tmp_path / "old.json"), data=tmp_path / "there")
    assert run.returncode == 0, run.stderr
    assert [each.tooth for each in loaded(tmp_path / "there", "mila-1").findings] == [107, 504]


def test_a_case_that_is_here_is_never_written_over(exported, tmp_path):
    before = loaded(tmp_path / "here")
    run = dictate("import", str(exported), data=tmp_path / "here")
    assert_one_sentence(run)
    assert run.stderr == "Case odo-1 is here already and is left as it is.\n"
    assert loaded(tmp_path / "here") == before


def test_a_damaged_bundle_leaves_no_case_behind(exported, tmp_path):
    exported.write_text(exported.read_text().replace('"value": 6,', '"value": 7,'))
    run = dictate("import", str(exported), data=tmp_path / "there")
    assert_one_sentence(run)
    assert "export it again" in run.stderr
    assert not (tmp_path / "there" / "cases.sqlite").exists()


@pytest.mark.parametrize("text", ["", "{}", "not JSON", "[" * 9999, '{"format": "x"}', "\ud800"])
def test_any_other_file_is_refused_in_one_sentence(tmp_path, text):
    (tmp_path / "x.json").write_bytes(text.encode(errors="surrogatepass"))
    run = dictate("import", str(tmp_path / "x.json"), data=tmp_path / "there")
    assert_one_sentence(run)
    assert "x.json" in run.stderr


def test_a_file_that_is_not_there_is_named(tmp_path):
    run = dictate("import", str(tmp_path / "none.json"), data=tmp_path / "there")
    assert_one_sentence(run)
    assert "none.json could not be read (No such file" in run.stderr


def test_a_page_goes_with_the_bundle_only_if_it_is_a_pdf(tmp_path):
    kept(tmp_path / "here")
    (tmp_path / "page.pdf").write_bytes(b"%PDF-1.7 invented")
    arguments = ("export", "odo-1", "--fhir", str(tmp_path / "odo.json"), "--pdf")
    run = dictate(*arguments, str(tmp_path / "page.pdf"), data=tmp_path / "here")
    assert run.returncode == 0, run.stderr
    assert "application/pdf" in (tmp_path / "odo.json").read_text()
    assert dictate("import", str(tmp_path / "odo.json"), data=tmp_path / "there").returncode == 0
    (tmp_path / "page.pdf").write_bytes(b"<html>")
    run = dictate(*arguments, str(tmp_path / "page.pdf"), data=tmp_path / "here")
    assert_one_sentence(run)
    assert "is no PDF" in run.stderr


def test_a_case_that_is_not_there_is_named(tmp_path):
    run = dictate("export", "none", "--fhir", str(tmp_path / "x"), data=tmp_path / "here")
    assert_one_sentence(run)


def test_the_fhir_package_is_loaded_by_nothing_else():
    """It takes its time, which charting must not wait for."""
    code = "import sys, dictate.cli; print([name for name in sys.modules if 'fhir' in name])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert re.fullmatch(r"\[\]\n", run.stdout)
