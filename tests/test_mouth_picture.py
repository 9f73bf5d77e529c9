import struct
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dictate.cases.stored import case_store
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.events import Charted, Event
from dictate.chart.finding import Finding
from dictate.cli import app
from dictate.errors import DictateError
from dictate.report.mouth import picture
from dictate.report.mouth.drawing import mouth_svg
from dictate.report.mouth.picture import mouth_png

CHART = Chart(
    species="cat", index_scale=4, findings=(Finding(tooth=104, kind="mobility", value=2),)
)


def size(png):
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    return struct.unpack(">II", png[16:24])


@pytest.mark.parametrize("mode", ["overview", "detailed"])
def test_a_picture_is_as_wide_as_asked_for(mode):
    wide, high = size(mouth_png(CHART, 900, mode))
    assert wide == 900
    assert high > 300


def test_one_chart_gives_the_same_bytes():
    assert mouth_png(CHART, 600) == mouth_png(CHART.model_copy(), 600)


def test_words_are_drawn():
    """Two charts whose drawings differ in one figure alone."""
    mild = CHART.model_copy(
        update={"findings": (CHART.findings[0].model_copy(update={"value": 1}),)}
    )
    alike = mouth_svg(mild).replace(">M1<", ">M2<").replace("mobility 1", "mobility 2")
    assert alike == mouth_svg(CHART)
    assert mouth_png(mild, 600) != mouth_png(CHART, 600)


@pytest.mark.parametrize("width", [0, 399, 6001, -5])
def test_a_width_out_of_bounds_is_refused(width):
    with pytest.raises(DictateError, match="choose 400 to 6000"):
        mouth_png(CHART, width)


def test_its_letters_are_regular_and_bold():
    names = [Path(file).name for file in picture.font_files()]
    assert names == ["Roboto-Regular.ttf", "Roboto-Bold.ttf"]


def test_without_its_font_no_picture_is_made(monkeypatch):
    picture.font_files.cache_clear()
    monkeypatch.setattr(picture, "find_spec", lambda name: None)
    with pytest.raises(DictateError, match="font"):
        mouth_png(CHART, 600)
    picture.font_files.cache_clear()


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    case = Case(id="c-1", species="cat", opened="2026-05-04T10:00:00+02:00")
    store = case_store()
    store.add_case(case)
    what = Charted(findings=CHART.findings)
    store.append(case.id, [Event(sequence=1, utterance=1, time=case.opened, what=what)])
    return tmp_path


def run(*words):
    return CliRunner().invoke(app, ["drawing", *map(str, words)])


@pytest.mark.parametrize(("ending", "start"), [(".svg", b"<svg"), (".png", b"\x89PNG")])
def test_the_command_writes_a_drawing_for_its_owner_alone(kept, ending, start):
    path = kept / f"mouth{ending}"
    done = run("c-1", "--out", path)
    assert done.exit_code == 0, done.output
    assert path.read_bytes().startswith(start)
    assert path.stat().st_mode & 0o777 == 0o600


def test_the_command_writes_a_detailed_drawing(kept):
    path = kept / "mouth.svg"
    run("c-1", "--out", path, "--detailed")
    assert 'width="180mm"' in path.read_text()
    assert "M2" in path.read_text()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--out", "mouth.pdf"), "neither .svg nor .png"),
        (("--out", "mouth.svg", "--width", "900"), "leave out --width"),
        (("--out", "mouth.png", "--width", "9"), "choose 400 to 6000"),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_a_sentence(kept, monkeypatch, words, sentence):
    monkeypatch.chdir(kept)
    done = run("c-1", *words)
    assert done.exit_code != 0
    assert sentence in str(done.exception)
    assert not Path(words[1]).exists()
