"""settings.toml in the data folder."""

import pytest

from dictate.errors import DictateError
from dictate.screen.foot_switch import check_foot_switch
from dictate.settings import SETTINGS_FILE, Settings, read_settings


@pytest.fixture
def written(tmp_path):
    def write(text):
        (tmp_path / SETTINGS_FILE).write_text(text, encoding="utf-8")
        return tmp_path

    return write


def test_without_a_file_everything_has_its_default(tmp_path):
    settings = read_settings(tmp_path)
    assert settings == Settings()
    assert (settings.sounds.tones, settings.sounds.read_back) == (True, "off")
    assert (settings.attention.name, settings.attention.foot_switch) == ("", "")


def test_the_file_lies_in_the_data_folder(written, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(written("[sounds]\nvolume = 1")))
    assert read_settings().sounds.volume == 1


def test_what_is_not_stated_keeps_its_default(written):
    settings = read_settings(written('[sounds]\nread_back = "all"\n[attention]\nname = "rosie"\n'))
    assert (settings.sounds.read_back, settings.sounds.rate) == ("all", 170)
    assert settings.attention.name == "rosie"


@pytest.mark.parametrize(
    "text, told",
    [
        ("[sounds]\ntone = true", r"no key sounds\.tone; .*tones, volume"),
        ("[sound]\ntones = true", r"no key sound; it may have chart, speech, sounds"),
        ("[sounds]\ntones = 1", r"sounds\.tones cannot be 1; it is true or false"),
        ("[sounds]\nvolume = 3", r"sounds\.volume cannot be 3; it is a number from 0 to 1"),
        ("[sounds]\nvolume = nan", r"sounds\.volume cannot be nan"),
        ('[sounds]\nvolume = "loud"', r"sounds\.volume cannot be 'loud'"),
        ('[sounds]\nread_back = "on"', r'read_back cannot be \'on\'; it is "off", "doubts"'),
        ("[sounds]\nrate = 20", r"sounds\.rate cannot be 20; it is a whole number from 80"),
        ('[sounds]\nvoice = "-x"', r"sounds\.voice cannot be '-x'"),
        ("[sounds]\necho_s = 9", r"sounds\.echo_s cannot be 9"),
        ("sounds = 3", r"sounds cannot be 3; it is a section \[sounds\]"),
        ('[attention]\nname = "Hey 2"', r"attention\.name cannot be 'Hey 2'; it is one to three"),
        ('[attention]\nfoot_switch = "f99"', r"foot_switch cannot be 'f99'; it is one key"),
        ('[attention]\nfoot_switch = "f13,f14"', r"foot_switch cannot be"),
        ("[sounds", r"is not TOML"),
        ("[chart]\nindex_scale = 5", r"chart\.index_scale cannot be 5; it is 3 or 4"),
        ('[speech]\nengine = "best"', r"speech\.engine cannot be 'best'; it is \"auto\", \"both\""),
        ("[speech]\nmicrophone = 1", r"speech\.microphone cannot be 1; it is the name of"),
        ('[screen]\ntheme = "blue"', r"screen\.theme cannot be 'blue'; it is \"dark\" or"),
        ("[screen]\nbig_type = 1", r"screen\.big_type cannot be 1; it is true or false"),
    ],
)
def test_what_cannot_be_is_refused_with_file_key_and_what_is_allowed(written, text, told):
    with pytest.raises(DictateError, match=told) as refusal:
        read_settings(written(text))
    assert SETTINGS_FILE in str(refusal.value)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("key", ["f13", "f24", "b", "7", "ctrl+r", "number_sign", "home", "space"])
def test_a_foot_switch_may_send_any_key_that_the_screen_can_name(written, key):
    settings = read_settings(written(f'[attention]\nfoot_switch = "{key}"'))
    check_foot_switch(settings.attention.foot_switch)


@pytest.mark.parametrize("key", ["f2", "pagedown", "escape", "enter", "ctrl+a", "up"])
def test_a_foot_switch_may_not_send_a_key_that_does_something_else(key):
    with pytest.raises(DictateError, match=r"attention\.foot_switch"):
        check_foot_switch(key)


def test_a_file_that_is_no_file_is_refused(tmp_path):
    (tmp_path / SETTINGS_FILE).mkdir()
    with pytest.raises(DictateError, match="could not be read"):
        read_settings(tmp_path)
