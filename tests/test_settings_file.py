"""Changing one setting in settings.toml: what else stands there stays as it was."""

import os
import stat
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.errors import DictateError
from dictate.settings import SETTINGS_FILE, Settings, change_setting, read_settings
from dictate.settings.page import as_toml, page
from dictate.settings.sections import all_settings

SETTINGS = {each.path: each for each in all_settings()}
VOLUME, MICROPHONE = SETTINGS["sounds.volume"], SETTINGS["speech.microphone"]
WITH_COMMENTS = """# ours, since the spring

[attention]
name = 'rosie'     # the dog of the house

[sounds]
# the scaler is loud
volume = 0.5       # was 0.3
rate = 170
"""


def with_file(folder, text):
    (folder / SETTINGS_FILE).write_text(text, encoding="utf-8")
    return folder


def text_in(folder):
    return (folder / SETTINGS_FILE).read_bytes().decode()


def test_only_the_value_changes(tmp_path):
    folder = with_file(tmp_path, WITH_COMMENTS)
    assert change_setting(VOLUME, 0.9, folder).sounds.volume == 0.9
    assert text_in(folder) == WITH_COMMENTS.replace("= 0.5 ", "= 0.9 ")


def test_a_new_key_goes_into_its_section_and_a_new_section_to_the_end(tmp_path):
    folder = with_file(tmp_path, WITH_COMMENTS)
    change_setting(SETTINGS["attention.foot_switch"], "f13", folder)
    change_setting(MICROPHONE, "Headset, ALSA", folder)
    text = text_in(folder)
    assert "# the dog of the house\n" in text
    assert text.index('foot_switch = "f13"') < text.index("[sounds]")
    assert text.endswith('\n[speech]\nmicrophone = "Headset, ALSA"\n')
    for line in WITH_COMMENTS.splitlines():
        assert line in text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# nothing yet\n",
        "sounds = {volume = 1, tones = true} # on one line\n",
        "sounds.volume = 1 # dotted\nscreen.theme = 'dark'\n",
        "[sounds]\nvolume = 1",
        "\ufeff[sounds]\nvolume = 1\n",
        "[screen]\n\n[sounds]\nvolume = 1\n# about nothing\n\n[attention]\n",
    ],
)
def test_it_can_be_changed_however_the_file_is_written(tmp_path, text):
    folder = with_file(tmp_path, text)
    change_setting(VOLUME, 0.25, folder)
    change_setting(MICROPHONE, "Röde", folder)
    found = read_settings(folder)
    assert (found.sounds.volume, found.speech.microphone) == (0.25, "Röde")
    comments = [line.split("#")[1] for line in text.splitlines() if "#" in line]
    assert all(each in text_in(folder) for each in comments)


def test_lines_that_end_as_on_windows_go_on_to(tmp_path):
    (tmp_path / SETTINGS_FILE).write_bytes(b"[sounds]\r\nvolume = 1\r\n")
    change_setting(MICROPHONE, "Headset", tmp_path)
    assert text_in(tmp_path).count("\n") == text_in(tmp_path).count("\r\n") > 3


@given(st.text(max_size=60))
@settings(max_examples=60)
def test_a_microphone_of_any_name_is_kept_as_it_is_or_refused(tmp_path_factory, name):
    folder = tmp_path_factory.mktemp("settings")
    try:
        change_setting(MICROPHONE, name, folder)
    except DictateError:
        assert not (folder / SETTINGS_FILE).exists()
        # Names with control characters, and what is no text, are no names.
        assert any(ord(c) < 32 or ord(c) == 127 or 0xD800 <= ord(c) <= 0xDFFF for c in name)
    else:
        assert read_settings(folder).speech.microphone == name


@pytest.mark.parametrize(
    "text, told",
    [
        ("[sounds\nvolume = 1\n", "is not TOML"),
        ("[sounds]\nvolume = 1\nvolume = 0.5\n", "is not TOML"),
        ("[sounds]\nrate = 20\n", r"sounds\.rate cannot be 20"),
        ("sounds = 3\n", r"sounds cannot be 3"),
        ("[unknown]\n", "there is no key unknown"),
    ],
)
def test_a_wrong_file_is_left_as_it_is(tmp_path, text, told):
    folder = with_file(tmp_path, text)
    with pytest.raises(DictateError, match=told):
        change_setting(VOLUME, 0.9, folder)
    assert text_in(folder) == text
    assert [each.name for each in folder.iterdir()] == [SETTINGS_FILE]


def test_a_file_that_is_no_text_is_left_as_it_is(tmp_path):
    (tmp_path / SETTINGS_FILE).write_bytes(b"[sounds]\nvoice = '\xff'\n")
    with pytest.raises(DictateError, match="is not TOML"):
        change_setting(VOLUME, 0.9, tmp_path)
    assert (tmp_path / SETTINGS_FILE).read_bytes() == b"[sounds]\nvoice = '\xff'\n"


def test_a_wrong_value_can_be_put_right(tmp_path):
    folder = with_file(tmp_path, "[sounds]\nvolume = 3 # louder\n")
    assert change_setting(VOLUME, 1, folder).sounds.volume == 1
    assert text_in(folder) == "[sounds]\nvolume = 1 # louder\n"


def test_what_cannot_be_is_not_written(tmp_path):
    folder = with_file(tmp_path, WITH_COMMENTS)
    with pytest.raises(DictateError, match=r"^sounds\.volume cannot be 2; it is a number from 0"):
        change_setting(VOLUME, 2, folder)
    assert text_in(folder) == WITH_COMMENTS


def test_file_and_folder_are_for_their_owner_alone(tmp_path):
    folder = tmp_path / "data"
    change_setting(VOLUME, 0.9, folder)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert stat.S_IMODE((folder / SETTINGS_FILE).stat().st_mode) == 0o600


def test_a_file_others_could_read_is_closed_to_them(tmp_path):
    folder = with_file(tmp_path, WITH_COMMENTS)
    (folder / SETTINGS_FILE).chmod(0o644)
    change_setting(VOLUME, 0.9, folder)
    assert stat.S_IMODE((folder / SETTINGS_FILE).stat().st_mode) == 0o600


def test_a_link_to_the_file_stays_a_link(tmp_path):
    elsewhere = tmp_path / "elsewhere.toml"
    elsewhere.write_text(WITH_COMMENTS, encoding="utf-8")
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / SETTINGS_FILE).symlink_to(elsewhere)
    change_setting(VOLUME, 0.9, folder)
    assert (folder / SETTINGS_FILE).is_symlink()
    assert "volume = 0.9" in elsewhere.read_text(encoding="utf-8")


def test_a_write_that_fails_half_way_leaves_the_old_file(tmp_path, monkeypatch):
    folder = with_file(tmp_path, WITH_COMMENTS)

    def no_room(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(DictateError, match="could not be written"):
        change_setting(VOLUME, 0.9, folder)
    assert text_in(folder) == WITH_COMMENTS
    assert [each.name for each in folder.iterdir()] == [SETTINGS_FILE]


def test_every_setting_can_be_kept_at_its_default_and_is_then_the_files(tmp_path):
    for setting in SETTINGS.values():
        changed = change_setting(setting, setting.default, tmp_path)
        assert setting.is_stated_in(changed)
    assert read_settings(tmp_path) == Settings()


def test_every_setting_says_what_it_means_in_one_line():
    for setting in SETTINGS.values():
        assert 0 < len(setting.meaning) <= 43, setting.path
        assert 0 < len(setting.shown.name) <= 13, setting.path


def test_the_page_is_that_of_the_models():
    kept = (Path(__file__).parents[1] / "docs" / "settings.md").read_text(encoding="utf-8")
    assert kept == page(), "run python -m dictate.settings.page docs/settings.md"


def test_the_example_of_the_page_is_the_defaults(tmp_path):
    example = page().split("```toml\n")[1].split("```")[0]
    found = read_settings(with_file(tmp_path, example))
    assert found == Settings()
    assert all(each.is_stated_in(found) for each in SETTINGS.values())


@pytest.mark.parametrize("value, text", [(True, "true"), ('a "b"', '"a \\"b\\""'), (0.2, "0.2")])
def test_values_are_shown_as_the_file_has_them(value, text):
    assert as_toml(value) == text
