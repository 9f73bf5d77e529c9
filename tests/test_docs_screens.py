"""docs/screens.md shows the program as it is; made by `python -m docs.screens.make`."""

import re
import shutil

import pytest

from docs.screens.make import FOLDER, NO_TMUX, PAGE, PICTURES, captured, page, without_time
from docs.screens.visit import CAT, VISITS

MOST_BYTES = 1_500_000
NAMES = [step.name for visit in VISITS for step in visit.steps if step.name]


def test_the_page_shows_every_screen_that_is_kept():
    assert PAGE.read_text(encoding="utf-8") == page()
    kept = {path.name for path in FOLDER.iterdir() if path.suffix in (".txt", ".svg")}
    assert kept == {f"{name}.txt" for name in NAMES} | {f"{name}.svg" for name in PICTURES}
    assert len(NAMES) == len(set(NAMES))


def test_the_screens_are_small_and_ask_for_nothing_from_elsewhere():
    kept = [path for path in FOLDER.iterdir() if path.is_file()]
    assert sum(path.stat().st_size for path in kept) < MOST_BYTES
    for path in FOLDER.glob("*.svg"):
        addresses = re.findall(r"https?://[^\"' )]+", path.read_text(encoding="utf-8"))
        assert not [each for each in addresses if not each.startswith("http://www.w3.org/")], path


def test_days_and_clocks_are_those_of_one_certain_day():
    assert without_time("0:00:07  2027-01-03 10:11  2027-01-03  20270103-dog-1 \n") == (
        "0:12:34  2026-05-04 08:02  2026-05-04  20260504-dog-1\n"
    )


@pytest.mark.skipif(shutil.which("tmux") is None, reason=NO_TMUX)
def test_the_program_in_a_terminal_shows_what_the_page_shows():
    for name, shown in captured(CAT):
        assert shown == (FOLDER / f"{name}.txt").read_text(encoding="utf-8"), name
