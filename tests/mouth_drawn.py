"""Charts, their drawings, and what to look for in one: shared by the tests of the drawing."""

import re
from xml.etree import ElementTree

from dictate.chart.chart import Chart
from dictate.chart.finding import SIX_SITES, Finding
from dictate.chart.kinds import finding_kinds
from dictate.report.mouth.drawing import mouth_svg

SVG = "{http://www.w3.org/2000/svg}"


def finding(tooth, kind, value=None, site=None):
    return Finding(tooth=tooth, kind=kind, value=value, unit=finding_kinds()[kind].unit, site=site)


def depths(tooth, *values):
    """Depths at the six sites, None where it was not probed."""
    pairs = zip(SIX_SITES, values, strict=True)
    return [finding(tooth, "pocket", depth, site) for site, depth in pairs if depth is not None]


def chart_of(*findings, species="dog", skipped=(), dentition="permanent"):
    return Chart(
        species=species,
        index_scale=4,
        findings=findings,
        skipped=frozenset(skipped),
        dentition=dentition,
    )


def drawing(*findings, mode="overview", **chart):
    return ElementTree.fromstring(mouth_svg(chart_of(*findings, **chart), mode))


def of(svg, tooth, kind, tag="text"):
    """What is drawn of a kind at a tooth, as elements."""
    return [
        e
        for e in svg.iter(f"{SVG}{tag}")
        if (e.get("data-tooth"), e.get("class")) == (str(tooth), kind)
    ]


def tooth_group(svg, tooth):
    return next(iter(of(svg, tooth, "tooth", "g")), None)


def numbers(svg):
    return {int(e.get("data-tooth")) for e in svg.iter(f"{SVG}text") if e.get("class") == "number"}


def labels(svg, tooth):
    """The codes at a tooth, without how they are broken into lines."""
    return " ".join(e.text for e in of(svg, tooth, "label")).split(" ")


def legend(svg):
    return " ".join(e.text for e in svg.find(f"{SVG}g[@class='legend']").iter(f"{SVG}text"))


def crown(svg, tooth, view):
    return tooth_group(svg, tooth).find(f"{SVG}g[@class='{view}']/{SVG}path[@class='crown']")


def marked(svg, tooth, kind):
    """Marks of a kind on a tooth, and the sides that they are on."""
    groups = of(svg, tooth, "marks", "g")
    return [g.get("data-side") for g in groups for e in g.iter() if e.get("class") == kind]


def place(svg, tooth, view="top"):
    """The middle of a crown: x and y."""
    pairs = re.findall(r"(-?[\d.]+) (-?[\d.]+)", crown(svg, tooth, view).get("d"))
    x, y = zip(*((float(x), float(y)) for x, y in pairs), strict=True)
    return (min(x) + max(x)) / 2, (min(y) + max(y)) / 2


def lines(svg, kind, side="outer", jaw="upper"):
    for group in svg.iter(f"{SVG}g"):
        if (group.get("class"), group.get("data-side"), group.get("data-jaw")) == (
            "depth-line",
            side,
            jaw,
        ):
            return group.findall(f"{SVG}path[@class='{kind}']")
    return []


def heights(path):
    return [float(y) for _, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d"))]


def neck(svg, tooth):
    """The height of a tooth's neck on the page, from the cheek."""
    return heights(crown(svg, tooth, "outer"))[0]
