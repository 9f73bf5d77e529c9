"""What is written in the drawing of the mouth can be read: no words meet, none are lost."""

import random
import re
import time
from itertools import combinations
from xml.etree import ElementTree

import pytest

from dictate.chart.anatomy import anatomy_of
from dictate.chart.chart import Chart
from dictate.chart.finding import SIX_SITES
from dictate.chart.kinds import finding_kinds
from dictate.chart.short import code_of
from dictate.report.mouth.drawing import mouth_svg
from dictate.report.mouth.sheet import Box
from tests.mouth_drawn import SVG, finding

POINT = 25.4 / 72 * 10
"""A point in the units of a drawing, 0.1 mm."""

NARROW, WIDE = "fijlrtI.,:;/()'’! \u00a0", "mwMW%"


def width(words, size, bold):
    """How wide words are: an estimate of its own from the widths of Helvetica (from memory)."""
    share = 0.0
    for letter in words:
        if letter in NARROW:
            share += 0.278
        elif letter in WIDE:
            share += 0.833
        else:
            share += 0.7 if letter.isupper() else 0.556 if letter.isdigit() else 0.53
    return share * size * (1.03 if bold else 1)


def box_of(text):
    x, y, size = (float(text.get(name)) for name in ("x", "y", "font-size"))
    wide = width(text.text, size, text.get("font-weight") == "bold")
    left = x - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor")]
    box = Box(left, y - 0.7 * size, left + wide, y)
    if turned := re.match(r"rotate\(-90 ([\d.]+) ([\d.]+)\)", text.get("transform", "")):
        cx, cy = map(float, turned.groups())
        box = Box(
            cx + box.top - cy, cy - (box.right - cx), cx + box.bottom - cy, cy - (box.left - cx)
        )
    return box


def busy_mouth(species, dentition="permanent", seed=1, often=1.0):
    """A chart with findings of nearly every kind on its teeth, by chance `often`."""
    chance, anatomy = random.Random(seed), anatomy_of(species)
    teeth = (*anatomy.permanent_teeth, *(anatomy.deciduous_teeth if dentition == "mixed" else ()))
    if dentition == "deciduous":
        teeth = anatomy.deciduous_teeth
    found = []
    for tooth in teeth:
        for kind, row in finding_kinds().items():
            if row.section == "treatment" or kind in ("missing", "unerupted", "normal"):
                continue
            if row.roots > max(anatomy.root_counts(tooth)) or chance.random() > often:
                continue
            if kind in ("pocket", "recession"):
                values = (1, 2.5, 4, 10)
                found += [finding(tooth, kind, chance.choice(values), site) for site in SIX_SITES]
            elif row.terms:
                found.append(finding(tooth, kind, chance.choice(list(row.terms))))
            else:
                value = {"grade": 2, "length": 3.5, "percent": 35}.get(row.value)
                site = chance.choice((None, "mesiobuccal", "distal")) if row.sited else None
                found.append(finding(tooth, kind, value, site))
    return Chart(species=species, index_scale=4, findings=tuple(found), dentition=dentition)


MOUTHS = {
    "dog, empty": Chart(species="dog", index_scale=4),
    "dog, all skipped": Chart(
        species="dog", index_scale=4, skipped=frozenset(anatomy_of("dog").permanent_teeth)
    ),
    "dog, full": busy_mouth("dog"),
    "cat, full": busy_mouth("cat"),
    "dog, some": busy_mouth("dog", seed=2, often=0.15),
    "cat, some": busy_mouth("cat", seed=3, often=0.15),
    "puppy": busy_mouth("dog", "deciduous", seed=4, often=0.3),
    "kitten": busy_mouth("cat", "deciduous", seed=5, often=0.3),
    "dog, both dentitions": busy_mouth("dog", "mixed", seed=6, often=0.2),
}


@pytest.fixture(
    params=[(name, mode) for name in MOUTHS for mode in ("overview", "detailed")], ids=str
)
def drawn(request):
    name, mode = request.param
    return MOUTHS[name], ElementTree.fromstring(mouth_svg(MOUTHS[name], mode)), mode


def test_no_words_meet(drawn):
    boxes = [(box_of(text), text) for text in drawn[1].iter(f"{SVG}text")]
    meeting = [
        (one.text, other.text)
        for (box, one), (another, other) in combinations(boxes, 2)
        if box.meets(another)
    ]
    assert not meeting


def test_all_words_stand_on_the_page(drawn):
    _, _, wide, high = map(float, drawn[1].get("viewBox").split())
    for text in drawn[1].iter(f"{SVG}text"):
        box = box_of(text)
        assert box.left >= 0 and box.top >= 0, text.text
        assert box.right <= wide and box.bottom <= high, text.text


def test_letters_are_large_enough_to_read(drawn):
    sizes = {float(text.get("font-size")) for text in drawn[1].iter(f"{SVG}text")}
    assert min(sizes) >= 5.5 * POINT


def test_every_code_is_written_at_its_tooth(drawn):
    chart, svg, _ = drawn
    written = {}
    for text in svg.iter(f"{SVG}text"):
        if text.get("class") == "label":
            written.setdefault(int(text.get("data-tooth")), []).extend(text.text.split(" "))
    for each in chart.findings:
        if each.site in SIX_SITES or each.row.section == "treatment" or each.kind == "radiographed":
            continue
        codes = [code.split("\u00a0")[0] for code in written[each.tooth]]
        assert code_of(each) in codes


def test_the_drawing_has_the_size_that_it_is_printed_at(drawn):
    _, svg, mode = drawn
    _, _, wide, high = map(float, svg.get("viewBox").split())
    assert svg.get("width") == {"overview": "100mm", "detailed": "180mm"}[mode]
    assert float(svg.get("height").removesuffix("mm")) == pytest.approx(high / 10, abs=0.1)
    assert wide == {"overview": 1000, "detailed": 1800}[mode]


@pytest.mark.parametrize(("mode", "least", "most"), [("overview", 90, 125), ("detailed", 120, 160)])
@pytest.mark.parametrize("species", ["dog", "cat"])
def test_an_empty_mouth_leaves_room_on_the_page(species, mode, least, most):
    svg = ElementTree.fromstring(mouth_svg(Chart(species=species, index_scale=4), mode))
    assert least < float(svg.get("height").removesuffix("mm")) < most


def test_a_mouth_is_drawn_in_under_a_tenth_of_a_second():
    chart = MOUTHS["dog, some"]
    mouth_svg(chart)
    spent = []
    for _ in range(5):
        begun = time.process_time()
        mouth_svg(chart)
        spent.append(time.process_time() - begun)
    assert min(spent) < 0.1


def test_a_mouth_with_some_findings_is_drawn_in_few_bytes():
    assert len(mouth_svg(MOUTHS["dog, some"])) < 300_000
