import stat

import numpy as np
import pytest
import soundfile

from dictate.chart.clip_names import case_of_clip, clip_name
from dictate.errors import DictateError
from dictate.store.clips import ClipStore

SOUND = (8000 * np.sin(np.arange(16_000) / 20)).astype(np.int16)


def test_a_clip_holds_the_sound_of_the_note(tmp_path):
    clips = ClipStore(tmp_path / "clips")
    name = clips.keeper("brindle")(SOUND, 7)
    sound, rate = soundfile.read(clips.path(name), dtype="int16")
    assert rate == 16_000
    assert np.array_equal(sound, SOUND)


@pytest.mark.parametrize("case_id", ["bo", "20261128-dog-1", "a-12345678", "b-1-9"])
@pytest.mark.parametrize("number", [1, 9_999_999])
@pytest.mark.parametrize("station", ["", "0123abcd" * 4, "12345678" * 4])
def test_a_name_tells_the_case_that_it_belongs_to(case_id, number, station):
    assert case_of_clip(clip_name(case_id, number, station)) == case_id


@pytest.mark.parametrize(
    "name", ["bo.flac", "bo-1.wav", "../bo-1.flac", "bo-1-0123abc.flac", "bo-1-0123ABCD.flac", ""]
)
def test_what_is_no_name_of_a_sound_belongs_to_no_case(name):
    assert case_of_clip(name) is None


def test_clips_are_readable_by_their_owner_alone(tmp_path):
    clips = ClipStore(tmp_path / "clips")
    path = clips.path(clips.keeper("brindle")(SOUND, 7))
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_clip_is_never_written_over(tmp_path):
    keep = ClipStore(tmp_path / "clips").keeper("brindle")
    keep(SOUND, 7)
    with pytest.raises(DictateError, match="cannot be kept"):
        keep(SOUND[:100], 7)


@pytest.mark.parametrize("name", ["../cases.sqlite", "/etc/passwd", "", "..", "a/b.flac"])
def test_a_name_cannot_lead_out_of_the_folder(tmp_path, name):
    with pytest.raises(DictateError):
        ClipStore(tmp_path).path(name)


def test_clips_are_copied_beside_a_report_for_its_owner_alone(tmp_path):
    clips = ClipStore(tmp_path / "clips")
    name = clips.keeper("brindle")(SOUND, 7)
    (copied,) = clips.copy([name, "brindle-9.flac"], tmp_path)
    assert copied.read_bytes() == clips.path(name).read_bytes()
    assert stat.S_IMODE(copied.stat().st_mode) == 0o600
