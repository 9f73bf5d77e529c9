"""Whatever dictate makes is for its owner alone, however open the process is that runs it."""

import os
import stat

import numpy as np
import pytest

from dictate.cases.stored import clip_store
from dictate.commands.what_works import _check_data_folder
from dictate.documents.reports import write_reports
from dictate.errors import DictateError
from dictate.folders import made_data_folder
from dictate.formulary.file import write_empty_formulary
from dictate.report.private_file import made_folder
from dictate.report.record import record_of
from dictate.settings import change_setting
from dictate.settings.sections import all_settings
from dictate.share.certificate import certificate_for
from tests.whole_case import CASE, OPENED, keep_visits

pytestmark = pytest.mark.skipif(os.name != "posix", reason="other systems have no such modes")


@pytest.fixture(autouse=True)
def open_to_all(monkeypatch, tmp_path):
    """Let everything that is made be open to everybody, unless whoever makes it says otherwise."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "new" / "data"))
    before = os.umask(0)
    yield
    os.umask(before)


def open_paths(folder):
    """What others than its owner may read, write or enter, in a folder and below it."""
    return [
        f"{path.relative_to(folder)} {stat.S_IMODE(path.lstat().st_mode):o}"
        for path in sorted(folder.rglob("*"))
        if path.lstat().st_mode & 0o077
    ]


def test_a_file_that_is_open_is_found(tmp_path):
    (tmp_path / "a").write_text("")
    assert open_paths(tmp_path) == ["a 666"]


def test_all_that_a_visit_keeps_is_private(tmp_path):
    session = keep_visits()
    data = made_data_folder()
    change_setting(all_settings()[0], 3)
    certificate_for("192.168.1.20", data / "second_screen", OPENED)
    write_empty_formulary(data / "formulary.toml")
    folder = tmp_path / "out" / "deep"
    write_reports(record_of(session.case, session.events), folder)
    clip_store().copy([note.clip for note in session.chart.notes], folder)
    names = {path.name for path in tmp_path.rglob("*")}
    assert {"cases.sqlite", "seal.key", "settings.toml", "clips", "192.168.1.20.pem"} <= names
    assert len([name for name in names if name.endswith(".flac")]) == 2
    assert open_paths(tmp_path) == []


def test_all_that_commands_write_is_private(commands_run):
    for arguments, ended in commands_run.ended.items():
        assert ended.returncode == 0, (arguments, ended.stderr)
    made = {path.suffix for path in commands_run.work.rglob("*") if path.is_file()}
    kinds = {".json", ".csv", ".html", ".pdf", ".flac", ".md", ".svg", ".png", ".toml"}
    assert made == kinds | {""}  # the notes of what watches
    assert open_paths(commands_run.folder) == []


def test_a_data_folder_that_was_open_is_closed_with_all_in_it(tmp_path):
    keep_visits()
    data = tmp_path / "new" / "data"
    opened = [path for path in (data, *data.iterdir()) if path.name != "models"]
    for path in opened:
        path.chmod(0o777 if path.is_dir() else 0o666)
    made_data_folder()
    assert open_paths(tmp_path) == []
    assert stat.S_IMODE((data / "cases.sqlite").stat().st_mode) == 0o600


def test_a_link_in_the_data_folder_changes_nothing_elsewhere(tmp_path):
    elsewhere = tmp_path / "elsewhere.toml"
    elsewhere.write_text("")
    made_data_folder().joinpath("settings.toml").symlink_to(elsewhere)
    made_data_folder()
    assert stat.S_IMODE(elsewhere.stat().st_mode) == 0o666


@pytest.mark.parametrize("why", ["of all", "home"])
def test_a_folder_that_is_not_dictates_own_stays_open_and_that_is_told(tmp_path, monkeypatch, why):
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o1777 if why == "of all" else 0o755)
    if why == "home":
        monkeypatch.setenv("HOME", str(shared))
    monkeypatch.setenv("DICTATE_DATA", str(shared))
    keep_visits()
    assert shared.stat().st_mode & 0o077
    assert open_paths(shared) == []
    with pytest.raises(DictateError, match="can be entered by others: close it"):
        _check_data_folder()


def test_a_folder_of_reports_that_is_there_keeps_its_mode_and_its_files_are_private(tmp_path):
    folder = tmp_path / "shared"
    folder.mkdir()
    session = keep_visits()
    write_reports(record_of(session.case, session.events), made_folder(folder))
    assert stat.S_IMODE(folder.stat().st_mode) == 0o777
    assert open_paths(folder) == []


def test_a_report_goes_into_the_folder_and_not_where_a_link_in_it_leads(tmp_path):
    session = keep_visits()
    record, (clip, *_) = record_of(session.case, session.events), session.chart.notes
    folder, target = tmp_path / "out", tmp_path / "target"
    folder.mkdir()
    target.write_text("not to be written over")
    for name in ("record.json", "findings.csv", "record.html", "record.pdf", clip.clip):
        (folder / name).symlink_to(target)
    write_reports(record, folder)
    clip_store().copy([clip.clip], folder)
    assert target.read_text() == "not to be written over"
    assert not any(path.is_symlink() for path in folder.iterdir())


def test_a_copy_of_a_clip_is_never_open_even_for_a_moment(tmp_path):
    name = clip_store().keeper(CASE)(np.zeros(100, np.int16), 1)
    (tmp_path / name).touch(mode=0o666)
    (copied,) = clip_store().copy([name], tmp_path)
    assert stat.S_IMODE(copied.stat().st_mode) == 0o600
