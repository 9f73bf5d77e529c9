"""backup, restore and forget on the real command line."""

import json
import os
import pty
import subprocess
import sys
import time

import pytest

from dictate.commands.chart import chart
from tests.backups import filled, rows, source_in
from tests.case_store import keep
from tests.test_cli import ROOT, assert_one_sentence, dictate

PASSPHRASE = "correct horse battery staple"


@pytest.fixture
def data(tmp_path):
    filled(tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def file(data, tmp_path):
    path = tmp_path / "backup.zip"
    run = dictate("backup", str(path), data=data)
    assert run.returncode == 0, run.stderr
    return path


def typed(data, *arguments, text):
    """Run with lines on the input, as from a script."""
    return subprocess.run(
        [sys.executable, "-m", "dictate", *arguments],
        input=text,
        capture_output=True,
        text=True,
        env={**os.environ, "DICTATE_DATA": str(data)},
        cwd=ROOT,
        check=False,
    )


def ids(data):
    return sorted(row[0] for row in rows(data)[0])


def test_a_backup_is_taken_back_on_another_machine(data, file, tmp_path):
    there = tmp_path / "there"
    run = dictate("restore", str(file), data=there)
    assert run.returncode == 0, run.stderr
    assert "6 cases restored, 0 made longer, 0 here already." in run.stdout
    assert rows(there) == rows(data)
    listed = json.loads(dictate("cases", "--json", data=there).stdout)
    assert listed["total"] == 6
    assert dictate("report", "tara-1", "--out", str(tmp_path / "out"), data=there).returncode == 0


def test_what_is_in_a_backup_is_said(data, tmp_path):
    run = dictate("backup", str(tmp_path / "b.zip"), "--with-key", data=data)
    assert "6 cases with 29 events, 1 sound of a note, 1 voice, settings.toml" in run.stdout
    assert "it was read back and is as it was written" in run.stdout
    assert "with the key in it charts can be sealed as from here" in run.stdout
    plain = dictate("backup", str(tmp_path / "c.zip"), data=data)
    assert "The key that seals closed charts is not in it" in plain.stdout


def test_check_verifies_and_writes_nothing(file, tmp_path):
    run = dictate("restore", "--check", str(file), data=tmp_path / "none")
    assert run.returncode == 0, run.stderr
    assert "is sound: it holds 6 cases" in run.stdout
    assert not (tmp_path / "none").exists()


def test_a_restore_into_a_folder_that_is_named(data, file, tmp_path):
    run = dictate("restore", str(file), "--into", str(tmp_path / "into"), data=tmp_path / "none")
    assert run.returncode == 0, run.stderr
    assert rows(tmp_path / "into") == rows(data)
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("restore", "nothing.zip"),
        ("restore", "README.md"),
        ("backup", "/nowhere/at/all.zip"),
        ("backup", "README.md"),
        ("forget",),
        ("forget", "nobody"),
        ("forget", "--animal", "Rex"),
        ("forget", "mila-1", "--animal", "Mila"),
        ("forget", "mila-1", "--reason", "Mila died"),
        ("forget", "--old-sound"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(data, arguments):
    before = rows(data)
    run = dictate(*arguments, data=data)
    assert_one_sentence(run)
    assert run.returncode == 2
    assert rows(data) == before


def test_a_locked_backup_from_a_script(data, tmp_path):
    path = str(tmp_path / "locked")
    twice = f"{PASSPHRASE}\n{PASSPHRASE}\n"
    run = typed(data, "backup", path, "--passphrase", text=twice)
    assert run.returncode == 0, run.stderr
    run = typed(tmp_path / "new", "restore", path, text=f"{PASSPHRASE}\n")
    assert run.returncode == 0, run.stderr
    assert rows(tmp_path / "new") == rows(data)
    wrong = typed(tmp_path / "newer", "restore", path, text="wrong horse battery staple\n")
    assert_one_sentence(wrong)
    assert_one_sentence(typed(tmp_path / "newer", "restore", path, text=""))
    assert not (tmp_path / "newer").exists()


@pytest.mark.parametrize("text", ["short\nshort\n", f"{PASSPHRASE}\n{PASSPHRASE}!\n", ""])
def test_a_passphrase_that_will_not_do(data, tmp_path, text):
    run = typed(data, "backup", str(tmp_path / "locked"), "--passphrase", text=text)
    assert_one_sentence(run)
    assert not (tmp_path / "locked").exists()


def test_a_passphrase_is_asked_for_unseen_on_a_terminal(data, tmp_path):
    path = tmp_path / "locked"
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(ROOT)
        os.environ["DICTATE_DATA"] = str(data)
        command = [sys.executable, "-m", "dictate", "backup", str(path), "--passphrase"]
        os.execv(sys.executable, command)
    shown = b""
    for question in (b"at least: ", b"again: "):
        while question not in shown:
            shown += os.read(terminal, 1024)
        time.sleep(0.2)
        os.write(terminal, PASSPHRASE.encode() + b"\n")
    try:
        while block := os.read(terminal, 1024):
            shown += block
    except OSError:  # the terminal ends with the program
        pass
    assert os.waitpid(child, 0)[1] == 0
    assert path.exists()
    assert PASSPHRASE.encode() not in shown


def test_forget_shows_what_goes_and_asks_for_the_name(data):
    run = typed(data, "forget", "--animal", "mila", text="Milo\n")
    assert run.returncode == 2
    assert "mila-1" in run.stdout and "K-1042" in run.stdout
    assert "Nothing was deleted, for the name was not typed." in run.stderr
    assert len(ids(data)) == 6
    run = typed(data, "forget", "--animal", "mila", text="mila\n")
    assert run.returncode == 0, run.stderr
    assert ids(data) == ["bo-1", "tara-1", "zoe-1", "zoe-2"]
    assert "2 cases with 14 events and 0 sounds deleted." in run.stdout
    assert "Backups keep their copies" in run.stdout


def test_forget_without_anybody_to_ask_deletes_nothing(data):
    assert dictate("forget", "tara-1", data=data).returncode == 2
    assert "tara-1" in ids(data)
    assert dictate("forget", "tara-1", "--yes", data=data).returncode == 0
    assert "tara-1" not in ids(data)
    assert list((data / "clips").iterdir()) == []


def test_an_animal_without_a_name_is_deleted_by_its_case(data):
    keep(source_in(data).store, "nameless-1", 1, "208 calculus 1", animal="")
    assert typed(data, "forget", "nameless-1", text="\n").returncode == 2
    run = typed(data, "forget", "nameless-1", text="nameless-1\n")
    assert run.returncode == 0, run.stderr
    assert "nameless-1" not in ids(data)


def test_old_sounds_go_by_the_settings(data):
    (data / "settings.toml").write_text("[keep]\nsound_days = 3000\n")
    run = dictate("forget", "--old-sound", data=data)
    assert run.returncode == 0, run.stderr
    assert "0 sounds of notes older than 3000 days deleted." in run.stdout
    [clip] = (data / "clips").iterdir()
    os.utime(clip, (0, 0))
    run = dictate("forget", "--old-sound", data=data)
    assert "1 sounds" not in run.stdout and "1 sound of a note older than" in run.stdout
    assert not clip.exists()
    assert len(ids(data)) == 6


def test_a_deleted_animal_comes_back_only_from_a_backup(data, file):
    dictate("forget", "tara-1", "--yes", data=data)
    run = dictate("restore", str(file), data=data)
    assert "1 case restored, 0 made longer, 5 here already." in run.stdout
    assert len(list((data / "clips").iterdir())) == 1


@pytest.mark.parametrize("erasable", [True, False])
def test_old_sounds_go_at_the_start_and_never_keep_one_from_charting(
    data, monkeypatch, capsys, erasable
):
    monkeypatch.setenv("DICTATE_DATA", str(data))
    monkeypatch.setattr("dictate.screen.app.ChartingApp.run", lambda app: None)
    (data / "settings.toml").write_text("[keep]\nsound_days = 30\n")
    [clip] = (data / "clips").iterdir()
    os.utime(clip, (0, 0))
    if not erasable:

        def refuse(path, **_):
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr("dictate.retention.erase._overwrite", lambda path, size: refuse(path))
    chart("bo-1", listen=False)
    said = capsys.readouterr()
    assert "Case bo-1 is kept" in said.out
    assert clip.exists() != erasable
    assert ("cannot be erased (Permission denied)" in said.err) != erasable


def test_a_key_that_is_not_there_yet_is_said(tmp_path):
    source_in(tmp_path / "new")
    run = dictate("backup", str(tmp_path / "b.zip"), "--with-key", data=tmp_path / "new")
    assert "There is no key yet: no chart was closed here." in run.stdout
    assert "holds 0 cases with 0 events and 0 sounds of notes" in run.stdout
