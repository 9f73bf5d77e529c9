"""`dictate settings`, and what `dictate chart` takes from the settings."""

import tomllib

import pytest
from typer.testing import CliRunner

from dictate import cli
from dictate.errors import DictateError
from dictate.screen.app import ChartingApp
from dictate.screen.settings_app import SettingsApp
from dictate.screen.theme import LIGHT
from dictate.settings import SETTINGS_FILE, Settings
from dictate.settings.sections import settings_of


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path))
    return tmp_path


@pytest.fixture
def shown(monkeypatch):
    """The programs that were run, without their screens."""
    apps = []
    monkeypatch.setattr(ChartingApp, "run", lambda app: apps.append(app))
    monkeypatch.setattr(SettingsApp, "run", lambda app: apps.append(app))
    return apps


@pytest.fixture
def engines(monkeypatch):
    """The engines that were asked for; none is loaded."""
    asked = []
    monkeypatch.setattr(
        "dictate.commands.chart.engine_maker", lambda choice, mllr: asked.append(choice)
    )
    return asked


def run(*arguments):
    result = CliRunner().invoke(cli.app, arguments)
    if isinstance(result.exception, DictateError):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def test_without_a_file_all_comes_from_the_defaults(data):
    output = run("settings")
    first, *rest = output.splitlines()
    assert first == f"# {data / SETTINGS_FILE} is not there: all is as it comes."
    assert all(line.endswith("# default") for line in rest if "=" in line)
    assert settings_of(tomllib.loads(output)) == Settings()


def test_what_the_file_states_is_told_from_the_defaults(data):
    (data / SETTINGS_FILE).write_text('[sounds]\nvolume = 0.5\n[speech]\nengine = "sphinx"\n')
    lines = [" ".join(line.split()) for line in run("settings").splitlines()]
    assert lines[0] == f"# {data / SETTINGS_FILE}"
    assert "volume = 0.5 # file" in lines
    assert 'engine = "sphinx" # file' in lines
    assert "rate = 170 # default" in lines


def test_a_broken_file_is_told_in_one_sentence(data):
    (data / SETTINGS_FILE).write_text("[sounds]\nvolume = 2\n")
    with pytest.raises(DictateError, match=r"sounds\.volume cannot be 2; it is a number from 0 to"):
        run("settings")


def test_edit_opens_the_screen_even_of_a_broken_file(data, shown):
    (data / SETTINGS_FILE).write_text("[sounds\n")
    run("settings", "--edit")
    assert [type(each) for each in shown] == [SettingsApp]


def test_a_case_is_charted_as_the_settings_say(data, shown, engines):
    (data / SETTINGS_FILE).write_text(
        '[chart]\nindex_scale = 3\n[speech]\nengine = "sphinx"\n[screen]\ntheme = "light"\n'
    )
    run("chart")
    (app,) = shown
    assert engines == ["sphinx"]
    assert app._session.case.index_scale == 3
    assert app.theme == LIGHT.name


def test_flags_and_the_file_of_a_case_win_over_the_settings(data, shown, engines, tmp_path):
    (data / SETTINGS_FILE).write_text('[chart]\nindex_scale = 3\n[speech]\nengine = "sphinx"\n')
    run("chart", "--index-scale", "4", "--engine", "auto")
    case = tmp_path / "case.toml"
    case.write_text('species = "cat"\nindex_scale = 4\n')
    run("chart", "--from", str(case))
    assert engines == ["auto", "sphinx"]
    assert [each._session.case.index_scale for each in shown] == [4, 4]


def test_a_resumed_case_keeps_its_scale(data, shown, engines):
    run("chart", "--no-listen")
    case = shown[0]._session.case
    (data / SETTINGS_FILE).write_text("[chart]\nindex_scale = 3\n")
    run("chart", case.id, "--no-listen")
    assert shown[1]._session.case.index_scale == 4


@pytest.mark.parametrize(
    "flags, chosen",
    [((), "Lapel, ALSA"), (("--microphone", "Table"), "Table")],
)
def test_it_listens_with_the_microphone_of_the_settings(
    data, shown, engines, monkeypatch, flags, chosen
):
    asked = []

    class FakeMicrophone:
        name = "Its own name"

        def __init__(self, device):
            asked.append(device)

        def blocks(self):
            return iter(())

    monkeypatch.setattr("dictate.speech.microphone.Microphone", FakeMicrophone)
    run("chart", *flags)
    (data / SETTINGS_FILE).write_text('[speech]\nmicrophone = "Lapel, ALSA"\n')
    (app,) = shown
    listener = app._listen(lambda event: None, lambda: "charting")
    assert list(listener._source.blocks()) == []
    assert asked == [chosen]
    assert app.running_microphone.name == "Its own name"
