import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.anatomy import anatomy_of
from dictate.chart.kinds import finding_kinds
from dictate.report.mouth.drawing import mouth_svg
from tests.mouth_drawn import (
    SVG,
    chart_of,
    crown,
    depths,
    drawing,
    finding,
    heights,
    labels,
    legend,
    marked,
    neck,
    numbers,
    of,
    place,
    tooth_group,
)


@pytest.mark.parametrize("mode", ["overview", "detailed"])
@pytest.mark.parametrize(
    ("species", "dentition", "count"),
    [
        ("dog", "permanent", 42),
        ("cat", "permanent", 30),
        ("dog", "deciduous", 28),
        ("cat", "deciduous", 26),
    ],
)
def test_every_tooth_is_drawn_from_three_sides_and_numbered(species, dentition, count, mode):
    """Numbers of teeth: modified Triadan system, Floyd 1991."""
    svg = drawing(species=species, dentition=dentition, mode=mode)
    anatomy = anatomy_of(species)
    young = dentition == "deciduous"
    assert numbers(svg) == set(anatomy.deciduous_teeth if young else anatomy.permanent_teeth)
    assert len(numbers(svg)) == count
    for tooth in numbers(svg):
        assert all(crown(svg, tooth, view) is not None for view in ("outer", "top", "inner"))


def test_a_cat_is_drawn_without_a_205():
    assert tooth_group(drawing(species="cat"), 205) is None


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_the_animals_right_is_on_the_left_of_the_page_and_the_upper_jaw_above(species):
    svg = drawing(species=species)
    height = float(svg.get("viewBox").split()[3])
    for tooth in anatomy_of(species).permanent_teeth:
        x, y = place(svg, tooth)
        assert (x < 500) == (tooth // 100 in (1, 4))
        assert (y < height / 2) == (tooth // 100 in (1, 2))


def test_incisors_stand_at_the_midline_and_molars_at_the_back():
    svg = drawing()
    across = [place(svg, tooth)[0] for tooth in (110, 108, 104, 101, 201, 204, 208, 210)]
    assert across == sorted(across)


@pytest.mark.parametrize("tooth", [108, 208, 309, 409])
def test_the_crowns_of_both_sides_point_to_the_view_from_above(tooth):
    svg = drawing()
    outer, top, inner = (place(svg, tooth, view)[1] for view in ("outer", "top", "inner"))
    upper = tooth < 300
    assert (outer < top < inner) if upper else (inner < top < outer)


def test_a_deciduous_tooth_is_drawn_only_where_it_carries_findings():
    svg = drawing(finding(504, "mobility", 2))
    assert numbers(svg) - numbers(drawing()) == {504}
    assert labels(svg, 504) == ["M2"]


def test_a_persistent_deciduous_tooth_stands_beside_its_successor():
    svg = drawing(finding(504, "persistent_deciduous"))
    x = {tooth: place(svg, tooth)[0] for tooth in (105, 504, 104)}
    assert x[105] < x[504] < x[104]


def test_a_molar_that_comes_early_stands_behind_the_deciduous_teeth():
    svg = drawing(finding(209, "calculus", 1), dentition="deciduous")
    assert labels(svg, 209) == ["C1"]
    assert place(svg, 209)[0] > place(svg, 608)[0]


def test_a_tooth_not_yet_charted_is_pale_and_whole():
    plain = crown(drawing(), 105, "outer")
    assert plain.get("stroke-dasharray") is None
    assert plain.get("stroke") != crown(drawing(finding(105, "normal")), 105, "outer").get("stroke")


def test_a_missing_tooth_is_a_ghost_without_roots_and_crossed_out():
    svg = drawing(finding(105, "missing"))
    assert crown(svg, 105, "outer").get("stroke-dasharray")
    kinds = [e.get("class") for e in tooth_group(svg, 105).iter(f"{SVG}path")]
    assert "roots" not in kinds
    assert "cross" in kinds
    assert "struck" not in kinds


@pytest.mark.parametrize("value", ["EXT", "X", "XS", "XSS"])
def test_an_extracted_tooth_is_struck_through_in_every_view_with_its_manner(value):
    svg = drawing(finding(208, "extracted", value), finding(208, "furcation", 2))
    assert len(tooth_group(svg, 208).findall(f".//{SVG}path[@class='struck']")) == 3
    assert {value, "F2"} <= set(labels(svg, 208))
    assert not marked(svg, 208, "furcation")


def test_an_unerupted_tooth_lies_in_the_jaw():
    svg, erupted = drawing(finding(105, "unerupted")), drawing()
    grown = place(svg, 105, "outer")[1] - place(svg, 105, "top")[1]
    assert grown < place(erupted, 105, "outer")[1] - place(erupted, 105, "top")[1]
    assert crown(svg, 105, "outer").get("stroke-dasharray")
    assert labels(svg, 105) == ["UNE"]


@pytest.mark.parametrize("kind", ["retained_root", "root_remnant"])
def test_a_root_that_is_left_is_drawn_under_the_ghost_of_its_crown(kind):
    svg = drawing(finding(108, "missing"), finding(108, kind))
    roots = tooth_group(svg, 108).find(f"{SVG}g[@class='outer']/{SVG}path[@class='roots']")
    assert roots.get("stroke-dasharray") is None
    assert crown(svg, 108, "outer").get("stroke-dasharray")


def test_a_skipped_tooth_says_so_until_something_is_found():
    assert labels(drawing(skipped=[309]), 309) == ["skip"]
    assert labels(drawing(finding(309, "calculus", 1), skipped=[309]), 309) == ["C1"]


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (finding(108, "fracture", "UCF"), "UCF"),
        (finding(108, "resorption", "4a"), "TR4a"),
        (finding(108, "furcation", 2, "distobuccal"), "F2\u00a0db"),
        (finding(108, "calculus", 3), "C3"),
        (finding(108, "gingivitis", 0), "G0"),
        (finding(108, "mobility", 3), "M3"),
        (finding(108, "pocket", 5), "P5"),
        (finding(108, "pocket", 5, "mesial"), "P5\u00a0m"),
        (finding(108, "recession", 2), "R2"),
        (finding(108, "horizontal_bone_loss", 30), "HBL30"),
    ],
)
def test_a_finding_is_written_at_its_tooth(found, code):
    assert code in labels(drawing(found), found.tooth)


@pytest.mark.parametrize(("stage", "full", "half"), [(1, False, 0), (2, False, 1), (3, True, 0)])
def test_the_disc_of_a_furcation_fills_with_its_stage(stage, full, half):
    svg = drawing(finding(308, "furcation", stage, "buccal"))
    marks = next(g for g in of(svg, 308, "marks", "g") if g.get("data-side") == "outer")
    disc = marks.find(f"{SVG}circle")
    assert disc.get("data-stage") == str(stage)
    assert (disc.get("fill") == "#111") == full
    assert len(marks.findall(f"{SVG}path[@class='half']")) == half


@pytest.mark.parametrize(
    ("site", "side"),
    [("buccal", "outer"), ("lingual", "inner"), ("palatal", "inner"), (None, "outer")],
)
def test_a_furcation_is_marked_on_its_side(site, side):
    assert marked(drawing(finding(308, "furcation", 1, site)), 308, "furcation") == [side]


def mark_heights(svg, tooth, kind):
    marks = next(g for g in of(svg, tooth, "marks", "g") if g.get("data-side") == "outer")
    return heights(marks.find(f"{SVG}path[@class='{kind}']"))


def test_a_crown_fracture_lies_on_the_crown_and_a_root_fracture_on_the_root():
    """Fracture classes: AVDC nomenclature, Abnormalities of Teeth."""
    for value, on_crown, on_root in (
        ("EI", True, False),
        ("EF", True, False),
        ("UCF", True, False),
        ("CCF", True, False),
        ("UCRF", True, True),
        ("CCRF", True, True),
        ("RF", False, True),
    ):
        svg = drawing(finding(104, "fracture", value))
        ys = [y - neck(svg, 104) for y in mark_heights(svg, 104, "fracture")]
        assert (max(ys) > 6, min(ys) < -6) == (on_crown, on_root), value


@pytest.mark.parametrize(
    ("value", "pulp"), [("UCF", 0), ("CCF", 1), ("UCRF", 0), ("CCRF", 1), ("RF", 0), ("FX", 0)]
)
def test_a_complicated_fracture_shows_the_pulp(value, pulp):
    """Complicated: the pulp is exposed (AVDC nomenclature)."""
    assert len(marked(drawing(finding(104, "fracture", value)), 104, "pulp")) == pulp


def test_a_fracture_of_no_stated_class_has_no_place_on_the_side():
    svg = drawing(finding(104, "fracture", "FX"))
    assert not marked(svg, 104, "fracture")
    assert (
        tooth_group(svg, 104).find(f"{SVG}g[@class='top']/{SVG}path[@class='fracture']") is not None
    )


def test_resorption_lies_where_its_stage_says():
    """Stages: AVDC nomenclature; 4b is more of the crown, 4c more of the root."""
    middle = {}
    for stage in ("4b", "4a", "4c"):
        svg = drawing(finding(304, "resorption", stage))
        ys = mark_heights(svg, 304, "resorption")
        middle[stage] = neck(svg, 304) - (min(ys) + max(ys)) / 2
    assert middle["4b"] > 10
    assert abs(middle["4a"]) < 3
    assert middle["4c"] < -10


def test_a_lucency_lies_about_the_ends_of_the_roots():
    assert marked(drawing(finding(104, "periapical_lucency")), 104, "lucency") == ["outer"]


def test_a_pointer_on_a_tooth_is_told_everything():
    svg = drawing(finding(108, "pocket", 5, "mesiobuccal"), finding(108, "fracture", "UCF"))
    title = tooth_group(svg, 108).find(f"{SVG}title").text
    assert title == "108 right maxillary fourth premolar: fracture UCF; pocket 5 mm mesiobuccal"


def test_a_screen_reader_is_told_what_it_is_and_what_was_found():
    svg = drawing(finding(108, "fracture", "UCF"), species="cat")
    assert svg.get("role") == "img"
    assert svg[0].text == "Teeth of the cat, seen from the front, and what was found on them"
    assert svg[1].tag == f"{SVG}desc"
    assert svg[1].text == (
        "Not yet charted: 29 of 30 teeth. 108 right maxillary fourth premolar: fracture UCF."
    )


def test_the_legend_explains_what_is_drawn_and_nothing_else():
    words = legend(drawing(finding(108, "calculus", 2), finding(104, "fracture", "UCF")))
    assert "C Calculus index, 0 to 4" in words
    assert "UCF Uncomplicated crown fracture" in words
    for absent in ("Gingivitis", "missing", "Thick line", "furcation", "pulp", "Sites in codes"):
        assert absent not in words


def test_an_empty_mouth_has_no_grid_and_a_legend_of_one_line():
    svg = drawing()
    assert svg.find(f".//{SVG}g[@class='grid']") is None
    assert legend(svg) == "not yet charted"


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (finding(105, "missing"), "missing"),
        (finding(108, "furcation", 2), "furcation stage 2: over half, not through"),
        (finding(108, "pocket", 2, "buccal"), "deeper than 3 mm"),
        (finding(108, "periapical_lucency"), "lucency about the roots"),
        (finding(104, "fracture", "CCF"), "pulp, where it is reached"),
        (finding(108, "vertical_bone_loss", 30), "VBL Vertical bone loss, % of the root"),
        (finding(108, "resorption_type", 1), "TRT1 Resorption type: periodontal ligament"),
        (finding(108, "furcation", 2, "buccal"), "Sites in codes"),
        (finding(108, "furcation", 2), "tells no spot"),
        (finding(308, "resorption", 2), "tells no spot"),
    ],
)
def test_the_legend_explains(found, words):
    assert words in legend(drawing(found))


def test_no_two_kinds_of_finding_share_a_code():
    codes = [row.code for row in finding_kinds().values() if row.code]
    assert len(codes) == len(set(codes))


@pytest.mark.parametrize(
    "kind", ["scaled", "polished", "sutured", "restored", "referred", "probed"]
)
def test_other_treatment_is_not_drawn_but_a_pointer_is_told(kind):
    svg = drawing(finding(208, kind), finding(208, "root_planed", "RP/C"))
    assert of(svg, 208, "label") == []
    assert crown(svg, 208, "outer").get("stroke") == crown(drawing(), 208, "outer").get("stroke")
    assert kind in tooth_group(svg, 208).find(f"{SVG}title").text


def test_that_a_radiograph_was_taken_is_not_drawn():
    svg = drawing(finding(208, "radiographed", "taken"))
    assert of(svg, 208, "label") == []


@given(site=st.text(max_size=40), value=st.text(max_size=12))
@settings(max_examples=40)
def test_whatever_is_said_the_drawing_is_sound_and_holds_no_markup(site, value):
    found = [finding(108, "pocket", 5, site), finding(101, "recession", value, site)]
    svg = drawing(*found, finding(104, "fracture", value), finding(103, "malposition", value))
    tags = {element.tag.removeprefix(SVG) for element in svg.iter()}
    assert tags <= {"svg", "title", "desc", "g", "path", "circle", "ellipse", "text"}
    names = {name for element in svg.iter() for name in element.attrib}
    assert not any(name.startswith("on") or "href" in name or name == "style" for name in names)


def test_a_hostile_site_is_shown_harmless():
    text = mouth_svg(chart_of(finding(108, "mobility", 1, "\u202e<script>\x00")))
    assert "<script" not in text
    assert "\u202e" not in text
    assert "\x00" not in text


def test_the_drawing_needs_nothing_outside_it():
    text = mouth_svg(chart_of(finding(108, "caries")))
    assert re.findall('https?://[^"]*', text) == ["http://www.w3.org/2000/svg"]
    assert "url(" not in text
    assert "id=" not in text.replace("-id=", ""), "two drawings may stand on one page"


def test_the_drawing_is_in_greys_alone():
    text = mouth_svg(chart_of(finding(108, "caries"), finding(308, "resorption", 3)))
    inks = set(re.findall('"#([0-9a-f]+)"', text))
    assert inks
    assert all(ink == ink[: len(ink) // 3] * 3 for ink in inks)


def test_one_chart_is_always_drawn_alike():
    chart = chart_of(finding(108, "caries"), *depths(204, 2, 6, 2, 1, 1, 1))
    assert mouth_svg(chart) == mouth_svg(chart.model_copy())
