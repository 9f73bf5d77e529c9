from itertools import combinations
from pathlib import Path

import pytest

from dictate.screen.colour import NORMAL_VISION, VISIONS, contrast, lightness, linear, seen
from dictate.screen.contrast import (
    LIGHTNESS_LEAST,
    TEXT_LEAST,
    THEMES,
    accessibility_page,
    lightnesses,
    measure,
)

PAGE = Path(__file__).resolve().parent.parent / "docs" / "accessibility.md"


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
async def test_every_ink_can_be_read_on_its_ground(theme):
    """Text 4.5 at least, level AA: W3C, WCAG 2.2, 1.4.3; large text and graphics are held to it
    too."""
    pairs = await measure(theme)
    poor = {pair: names for pair, names in pairs.items() if pair.ratio < TEXT_LEAST}
    assert not poor


async def test_hidden_parts_and_states_are_measured():
    names = {name for users in (await measure(THEMES[0])).values() for name in users}
    assert {
        "Problems", "status--stopped", "mouth--severe", "big--refused", "input--cursor",
        "input--selection", "level--clipping", "proposal--source", "HeardPanel border",
        "Body #follows-body scrollbar",
    } <= names  # fmt: skip


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("vision", VISIONS)
def test_inks_of_gravity_differ_in_lightness_to_every_vision(theme, vision):
    """Simulated after Machado, Oliveira and Fernandes 2009; the bound is our own."""
    for one, other in combinations(lightnesses(theme, vision).values(), 2):
        assert abs(one - other) >= LIGHTNESS_LEAST


def test_the_contrast_of_known_pairs():
    """Black on white 21, a colour on itself 1: W3C, WCAG 2.2, contrast ratio. #767676 is the
    lightest grey that has 4.5 on white: from memory."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#ff5a86", "#ff5a86") == 1
    assert contrast("#ffffff", "#767676") >= 4.5 > contrast("#ffffff", "#777777")


def test_lightness_runs_from_0_to_100():
    """CIE 1976; middle grey #777777 has a lightness of about 50: from memory."""
    assert lightness(linear("#000000")) == pytest.approx(0)
    assert lightness(linear("#ffffff")) == pytest.approx(100)
    assert lightness(linear("#777777")) == pytest.approx(50, abs=0.5)


def test_greys_look_alike_to_every_vision_and_red_darkens_without_red_cones():
    for vision in VISIONS:
        assert seen("#808080", vision) == pytest.approx(linear("#808080"), abs=1e-4)
    normal, without = seen("#ff0000", NORMAL_VISION), seen("#ff0000", "protanopia")
    assert lightness(without) < lightness(normal)


def test_the_page_says_what_is_measured():
    """Make it again: python -m dictate.screen.contrast docs/accessibility.md"""
    assert PAGE.read_text(encoding="utf-8") == accessibility_page()
