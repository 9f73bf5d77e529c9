import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.chart.anatomy import anatomy_of
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.report.mouth_drawing import mouth_svg

SVG = "{http://www.w3.org/2000/svg}"


def finding(tooth, kind, value=None, site=None):
    return Finding(tooth=tooth, kind=kind, value=value, unit=finding_kinds()[kind].unit, site=site)


def drawing(*findings, species="dog", skipped=(), dentition="permanent"):
    chart = Chart(
        species=species,
        index_scale=4,
        findings=findings,
        skipped=frozenset(skipped),
        dentition=dentition,
    )
    return ElementTree.fromstring(mouth_svg(chart))


def tooth_group(svg, tooth):
    return svg.find(f".//{SVG}g[@id='tooth-{tooth}']")


def words(element):
    """What is written in a part of the drawing, without the hidden titles."""
    return [text.text for text in element.iter(f"{SVG}text")]


def outline(svg, tooth):
    return tooth_group(svg, tooth).find(f"{SVG}path")


def place(svg, tooth):
    """Where the outline of a tooth begins: x and y."""
    start = outline(svg, tooth).get("d")[1:].split("L")[0].replace("C", "Q").split("Q")[0]
    x, y = start.split()
    return float(x), float(y)


@pytest.mark.parametrize(("species", "count"), [("dog", 42), ("cat", 30)])
def test_every_permanent_tooth_is_drawn_and_numbered(species, count):
    svg = drawing(species=species)
    drawn = [tooth for tooth in range(100, 900) if tooth_group(svg, tooth) is not None]
    assert set(drawn) == set(anatomy_of(species).permanent_teeth)
    assert len(drawn) == count
    assert all(str(tooth) in words(tooth_group(svg, tooth)) for tooth in drawn)


def test_a_cat_is_drawn_without_a_205():
    assert tooth_group(drawing(species="cat"), 205) is None


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_the_animals_right_is_on_the_left_of_the_page_and_the_upper_arch_above(species):
    svg = drawing(species=species)
    for tooth in anatomy_of(species).permanent_teeth:
        x, y = place(svg, tooth)
        assert (x < 0) == (tooth // 100 in (1, 4))
        assert (y < 0) == (tooth // 100 in (1, 2))


def test_incisors_stand_at_the_midline_and_molars_at_the_back():
    svg = drawing()
    across = [abs(place(svg, tooth)[0]) for tooth in (201, 202, 203, 204)]
    assert across == sorted(across)
    assert place(svg, 201)[1] < place(svg, 204)[1] < place(svg, 208)[1] < place(svg, 210)[1]


def test_a_deciduous_tooth_is_drawn_only_where_it_carries_findings():
    svg = drawing(finding(504, "mobility", 2))
    assert tooth_group(svg, 504) is not None
    assert tooth_group(svg, 604) is None


def test_a_deciduous_tooth_stands_inside_its_successor_and_is_labelled_beside_it():
    svg = drawing(finding(504, "mobility", 2))
    assert abs(place(svg, 504)[0]) < abs(place(svg, 104)[0])
    assert "504: M2" in words(tooth_group(svg, 104))


def test_a_missing_tooth_is_hollow_dashed_and_crossed():
    svg = drawing(finding(105, "missing"))
    assert outline(svg, 105).get("fill") == "none"
    assert outline(svg, 105).get("stroke-dasharray") != "none"
    assert len(tooth_group(svg, 105).findall(f"{SVG}path")) == 2


def test_a_tooth_not_yet_charted_is_hollow_and_not_dashed():
    assert outline(drawing(), 105).get("fill") == "none"
    assert outline(drawing(), 105).get("stroke-dasharray") == "none"


def test_a_skipped_tooth_says_so():
    assert "skip" in words(tooth_group(drawing(skipped=[309]), 309))


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (finding(108, "fracture", "UCF"), "UCF"),
        (finding(108, "resorption", "4a"), "TR4a"),
        (finding(108, "furcation", 2, "distobuccal"), "F2\u00a0db"),
        (finding(108, "calculus", 3), "C3"),
        (finding(108, "gingivitis", 0), "G0"),
        (finding(308, "recession", 2.5, "lingual"), "R2.5\u00a0p"),
        (finding(103, "recession", 2, "mesiolabial"), "R2\u00a0mb"),
        (finding(108, "pocket", 5), "P5"),
        (finding(108, "pocket", 5, "mesial"), "P5\u00a0m"),
    ],
)
def test_a_finding_is_written_at_its_tooth(found, code):
    assert code in words(tooth_group(drawing(found), found.tooth))


def test_codes_that_fit_stand_on_one_line():
    found = finding(108, "calculus", 2), finding(108, "gingivitis", 1)
    assert "G1 C2" in words(tooth_group(drawing(*found), 108))


@pytest.mark.parametrize("kind", ["fracture", "resorption", "furcation"])
def test_what_changes_a_crown_is_marked_on_it(kind):
    value = 1 if kind == "furcation" else next(iter(finding_kinds()[kind].terms))
    svg = drawing(finding(108, kind, value))
    assert len(tooth_group(svg, 108).findall(f"{SVG}path")) == 2


def test_six_depths_stand_around_the_tooth_at_their_sites():
    sites = ("mesiobuccal", "buccal", "distobuccal", "mesiopalatal", "palatal", "distopalatal")
    found = [finding(108, "pocket", depth, site) for depth, site in enumerate(sites)]
    texts = tooth_group(drawing(*found), 108).findall(f"{SVG}text")
    where = {each.text: (float(each.get("x")), float(each.get("y"))) for each in texts}
    assert where["1"][0] < where["4"][0], "the cheek of a right tooth is to the left"
    assert where["0"][1] < where["1"][1] < where["2"][1], "mesial is nearer the incisors, above"


def test_labial_and_lingual_depths_stand_where_buccal_and_palatal_ones_would():
    svg = drawing(finding(404, "pocket", 2, "labial"), finding(404, "pocket", 3, "lingual"))
    assert {"2", "3", "404"} == set(words(tooth_group(svg, 404)))


@pytest.mark.parametrize(
    ("species", "depth", "boxed"), [("dog", 3, False), ("dog", 4, True), ("cat", 2, True)]
)
def test_a_depth_deeper_than_normal_for_the_species_is_boxed(species, depth, boxed):
    svg = drawing(finding(104, "pocket", depth, "labial"), species=species)
    assert (tooth_group(svg, 104).find(f"{SVG}rect") is not None) == boxed


def test_more_codes_than_there_is_room_for_end_in_an_ellipsis():
    found = [
        finding(108, kind) for kind in ("caries", "draining_tract", "discolored", "supernumerary")
    ]
    found += [finding(108, "recession", 2, site) for site in ("mesial", "distal", "buccal")]
    assert "…" in words(tooth_group(drawing(*found), 108))


def test_a_pointer_on_a_tooth_is_told_everything():
    svg = drawing(finding(108, "pocket", 5, "mesiobuccal"), finding(108, "fracture", "UCF"))
    title = tooth_group(svg, 108).find(f"{SVG}title").text
    assert title == ("108 right maxillary fourth premolar: fracture UCF; pocket 5 mm mesiobuccal")


def test_the_legend_explains_the_codes_in_use_and_no_others():
    legend = drawing(finding(108, "calculus", 2), finding(108, "fracture", "UCF")).find(
        f"{SVG}g[@id='legend']"
    )
    assert {"C", "Calculus index, 0 to 4", "UCF", "Uncomplicated crown fracture"} <= set(
        words(legend)
    )
    assert "G" not in words(legend)


def test_the_legend_names_the_depth_above_which_figures_are_boxed():
    legend = drawing(species="cat").find(f"{SVG}g[@id='legend']")
    assert any("deeper than 1 mm" in text for text in words(legend))


def test_no_two_kinds_of_finding_share_a_code():
    codes = [row.code for row in finding_kinds().values() if row.code]
    assert len(codes) == len(set(codes))


def test_the_drawing_is_in_greys_alone():
    svg = mouth_svg(Chart(species="dog", index_scale=4, findings=(finding(108, "caries"),)))
    inks = set(re.findall('"#([0-9a-f]+)"', svg))
    assert inks
    assert all(ink == ink[: len(ink) // 3] * 3 for ink in inks)


def marks(svg, tooth):
    """The shape of every mark on a crown, without where it lies."""
    paths = tooth_group(svg, tooth).findall(f"{SVG}path")[1:]
    return ["".join(re.findall("[A-Z]", path.get("d"))) for path in paths]


@pytest.mark.parametrize("value", ["EXT", "X", "XS", "XSS"])
def test_an_extracted_tooth_is_hollow_not_dashed_and_struck_through(value):
    svg = drawing(finding(208, "extracted", value))
    assert outline(svg, 208).get("fill") == "none"
    assert outline(svg, 208).get("stroke-dasharray") == "none"
    assert value in words(tooth_group(svg, 208))


def test_an_extracted_tooth_is_told_apart_from_a_missing_and_an_uncharted_one():
    svg = drawing(finding(208, "extracted", "X"), finding(108, "missing"))
    struck, crossed = (tooth_group(svg, tooth).findall(f"{SVG}path")[1] for tooth in (208, 108))
    assert struck.get("d") != crossed.get("d")
    assert outline(svg, 208).get("stroke-dasharray") != outline(svg, 108).get("stroke-dasharray")
    assert outline(svg, 208).get("stroke") != outline(svg, 308).get("stroke")


def test_on_an_extracted_tooth_no_other_mark_is_drawn_but_its_codes_stay():
    svg = drawing(finding(208, "extracted", "XSS"), finding(208, "furcation", 2))
    assert len(marks(svg, 208)) == 1
    assert "F2 XSS" in words(tooth_group(svg, 208))


@pytest.mark.parametrize(
    "kind", ["scaled", "polished", "sutured", "restored", "referred", "probed"]
)
def test_other_treatment_is_not_drawn(kind):
    svg = drawing(finding(208, kind), finding(208, "root_planed", "RP/C"))
    assert words(svg) == words(drawing())
    assert outline(svg, 208).get("fill") == "none"


def test_a_pointer_on_a_treated_tooth_is_told_of_the_treatment():
    title = tooth_group(drawing(finding(208, "scaled")), 208).find(f"{SVG}title").text
    assert title.endswith(": scaled")


def test_that_a_radiograph_was_taken_is_not_drawn_but_what_it_shows_is():
    svg = drawing(finding(208, "radiographed", "taken"), finding(208, "horizontal_bone_loss", 30))
    assert "HBL30" in words(tooth_group(svg, 208))
    assert not any("RAD" in text for text in words(svg))


def test_the_legend_gives_bone_loss_in_percent_and_not_in_mm():
    legend = words(drawing(finding(208, "vertical_bone_loss", 30)).find(f"{SVG}g[@id='legend']"))
    assert "Vertical bone loss, % of the root" in legend


@pytest.mark.parametrize(("species", "count"), [("dog", 28), ("cat", 26)])
def test_in_a_deciduous_dentition_the_deciduous_arch_is_drawn(species, count):
    """Numbers of teeth: modified Triadan system, Floyd 1991."""
    svg = drawing(species=species, dentition="deciduous")
    drawn = [tooth for tooth in range(100, 900) if tooth_group(svg, tooth) is not None]
    assert set(drawn) == set(anatomy_of(species).deciduous_teeth)
    assert len(drawn) == count
    assert all(str(tooth) in words(tooth_group(svg, tooth)) for tooth in drawn)


def test_a_permanent_tooth_in_a_deciduous_arch_stands_inside_its_predecessor():
    svg = drawing(finding(204, "mobility", 1), dentition="deciduous")
    assert abs(place(svg, 204)[0]) < abs(place(svg, 604)[0])
    assert "204: M1" in words(tooth_group(svg, 604))


def test_a_molar_that_comes_early_stands_in_its_own_place():
    svg = drawing(finding(209, "calculus", 1), dentition="deciduous")
    assert {"209", "C1"} <= set(words(tooth_group(svg, 209)))
    assert place(svg, 209) == place(drawing(), 209)


def test_in_a_mixed_dentition_the_permanent_arch_is_drawn():
    svg = drawing(finding(604, "mobility", 1), dentition="mixed")
    assert place(svg, 204) == place(drawing(), 204)
    assert tooth_group(svg, 603) is None


@given(st.text(max_size=60))
def test_whatever_a_site_is_called_the_drawing_is_sound_and_holds_no_markup(site):
    svg = drawing(finding(108, "pocket", 5, site), finding(101, "recession", 2, site))
    assert len(list(svg.iter(f"{SVG}g"))) == 43
