import pytest

from tests.mouth_drawn import SVG, depths, drawing, finding, heights, lines, neck, of


def test_a_depth_line_joins_neighbouring_teeth():
    svg = drawing(*depths(107, 1, 2, 3, 1, 1, 1), *depths(108, 4, 5, 6, 1, 1, 1))
    (line,) = lines(svg, "bottom")
    sites = line.get("data-sites").split()
    assert sites == [
        f"{tooth}-{site}"
        for tooth in (108, 107)
        for site in ("distobuccal", "buccal", "mesiobuccal")
    ]


def test_a_depth_line_has_a_gap_where_nothing_was_measured():
    svg = drawing(*depths(107, 1, None, 3, 1, 1, 1))
    runs = [line.get("data-sites") for line in lines(svg, "bottom")]
    assert runs == ["107-distobuccal", "107-mesiobuccal"]


def test_no_depth_line_is_drawn_over_a_tooth_that_was_not_probed():
    svg = drawing(*depths(106, 1, 1, 1, 1, 1, 1), *depths(108, 1, 1, 1, 1, 1, 1))
    assert len(lines(svg, "bottom")) == 2


def test_no_depth_line_leads_to_a_tooth_beside_the_arch():
    svg = drawing(*depths(104, 1, 1, 1, 1, 1, 1), *depths(504, 1, 1, 1, 1, 1, 1))
    assert len(lines(svg, "bottom")) == 2


def test_depths_are_drawn_to_scale_from_the_neck():
    svg = drawing(*depths(204, 2, 4, 8, 1, 1, 1))
    below = [neck(svg, 204) - y for y in heights(lines(svg, "bottom")[0])]
    assert below[1] == pytest.approx(2 * below[0], abs=0.2)
    assert below[2] == pytest.approx(4 * below[0], abs=0.2)


def test_the_scale_is_that_of_the_grid():
    svg = drawing(*depths(204, 1, 2, 3, 1, 1, 1))
    grid = svg.find(f".//{SVG}g[@class='grid']")
    rows = [float(line.get("d").split()[1].split("H")[0]) for line in grid.findall(f"{SVG}path")]
    assert heights(lines(svg, "bottom")[0]) == pytest.approx(rows[1:4], abs=0.2)


def test_recession_moves_the_gum_margin_to_the_root_and_the_depth_with_it():
    svg = drawing(*depths(204, 2, 2, 2, 1, 1, 1), finding(204, "recession", 3, "labial"))
    mm = (neck(svg, 204) - heights(lines(svg, "margin")[0])[1]) / 3
    assert heights(lines(svg, "margin")[0])[0] == pytest.approx(neck(svg, 204), abs=0.2)
    assert neck(svg, 204) - heights(lines(svg, "bottom")[0])[1] == pytest.approx(5 * mm, abs=0.2)


def test_enlargement_moves_the_gum_margin_over_the_crown():
    svg = drawing(*depths(204, 2, 2, 2, 1, 1, 1), finding(204, "enlargement", 2, "labial"))
    assert heights(lines(svg, "margin")[0])[1] > neck(svg, 204)
    assert heights(lines(svg, "bottom")[0])[1] == pytest.approx(neck(svg, 204), abs=0.2)


def test_recession_without_a_depth_draws_a_margin_and_no_bottom():
    svg = drawing(finding(204, "recession", 3, "labial"))
    assert len(lines(svg, "margin")) == 1
    assert not lines(svg, "bottom")


@pytest.mark.parametrize("site", ["lingual", "palatal"])
def test_inner_depths_are_drawn_on_the_inner_side(site):
    svg = drawing(finding(304, "pocket", 5, site))
    assert len(lines(svg, "bottom", "inner", "lower")) == 1
    assert not lines(svg, "bottom", "outer", "lower")


def test_the_deepest_depth_that_is_believed_stays_in_its_band():
    svg = drawing(finding(204, "pocket", 20, "labial"), finding(204, "recession", 20, "labial"))
    (y,) = [float(d.get("cy")) for d in svg.iter(f"{SVG}circle") if d.get("class") == "deep"]
    figures = [float(e.get("y")) for e in of(svg, 204, "pocket")]
    assert figures[0] < y < neck(svg, 204)


@pytest.mark.parametrize(
    ("species", "depth", "deep"), [("dog", 3, 0), ("dog", 4, 1), ("cat", 2, 1)]
)
def test_an_overview_writes_depths_that_are_deeper_than_normal(species, depth, deep):
    """Normal depth, dog 1-3 mm, cat 0.5-1 mm: common practice, no source."""
    svg = drawing(finding(104, "pocket", depth, "labial"), species=species)
    assert [e.text for e in of(svg, 104, "pocket")] == [str(depth)] * deep
    assert len([c for c in svg.iter(f"{SVG}circle") if c.get("class") == "deep"]) == deep


def test_a_detailed_drawing_writes_all_depths_and_boxes_the_deep_ones():
    svg = drawing(*depths(108, 0, 2, 4, 2, 2.5, 3), mode="detailed")
    assert sorted(e.text for e in of(svg, 108, "pocket")) == ["0", "2", "2", "2.5", "3", "4"]
    assert [e.text for e in of(svg, 108, "pocket") if e.get("fill") == "#fff"] == ["4"]
    assert len([p for p in svg.iter(f"{SVG}path") if p.get("class") == "box"]) == 1


@pytest.mark.parametrize("mode", ["overview", "detailed"])
def test_recession_is_written_in_a_row_of_its_own(mode):
    svg = drawing(*depths(204, 2, 6, 2, 1, 1, 1), finding(204, "recession", 3, "labial"), mode=mode)
    (recession,) = of(svg, 204, "recession")
    assert recession.text == "3"
    assert all(e.get("y") != recession.get("y") for e in of(svg, 204, "pocket"))
