"""What a chart says that cannot be, worked out from the tables alone: not by the rules of the
chart, which are what is tested."""

from __future__ import annotations

import math
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import dictate
from dictate.chart.case import Case
from dictate.chart.chart import blank_chart, fold
from dictate.chart.events import (
    Charted,
    Closed,
    Decided,
    DentitionChosen,
    Event,
    Noted,
    Observed,
    Reopened,
)
from dictate.chart.finding import SITES, Finding
from dictate.chart.observation import Observation

_TABLES = Path(dictate.__file__).parent
_OF_THE_CHART = Charted | Observed | Noted | Decided | DentitionChosen
_UPPER = (1, 2, 5, 6)
_ONE_SIDE = {"labial": "buccal", "facial": "buccal", "lingual": "palatal"}


def untruths(case: Case, events: Sequence[Event]) -> list[str]:
    """Return everything in a case that cannot be, each in some words."""
    chart = fold(blank_chart(case), events)
    found = [*_of_case(case), *_of_order(events)]
    for finding in chart.findings:
        found += [f"{why}: {finding.words()} of {finding.tooth}" for why in _of(case, finding)]
    found += _side_by_side(chart.findings)
    for seen in chart.observations:
        found += [f"{why}: {seen!r}" for why in _of_observation(case, seen)]
    found += _contradictions(chart.observations)
    teeth = [each.tooth for each in (*chart.notes, *chart.decisions) if each.tooth is not None]
    found += [f"no {tooth}" for tooth in teeth if not _is_there(case, tooth)]
    rules = _table("assessment/proposals.toml")
    found += [f"no rule {each.rule}" for each in chart.decisions if each.rule not in rules]
    return found


@cache
def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((_TABLES / name).read_text(encoding="utf-8"))


def _of_case(case: Case) -> Iterator[str]:
    heaviest = _table(f"chart/species/{case.species}.toml")["heaviest_kg"]["value"]
    if case.weight_kg is not None and not 0 < case.weight_kg <= heaviest:
        yield f"weight {case.weight_kg}"
    if case.age is not None and not 0 <= case.age <= 40.01:
        yield f"age {case.age}"
    if case.index_scale not in (3, 4) or case.opened.tzinfo is None:
        yield "scale or time"


def _of_order(events: Sequence[Event]) -> Iterator[str]:
    closed = False
    for number, event in enumerate(events, start=1):
        if event.sequence != number or event.time.tzinfo is None:
            yield f"event {number} is out of order"
        if closed and isinstance(event.what, _OF_THE_CHART | Closed):
            yield f"event {number} was charted into a closed chart"
        if isinstance(event.what, Reopened) and not closed:
            yield f"event {number} opens what is not closed"
        if isinstance(event.what, Closed | Reopened):
            closed = isinstance(event.what, Closed)


def _jaw(tooth: int) -> str:
    return "upper" if tooth // 100 in _UPPER else "lower"


def _is_there(case: Case, tooth: int) -> bool:
    if not 1 <= tooth // 100 <= 8:
        return False
    dentition = "permanent" if tooth // 100 <= 4 else "deciduous"
    places: list[int] = _table(f"chart/species/{case.species}.toml")[dentition][_jaw(tooth)]
    return tooth % 100 in places


def _most_roots(case: Case, tooth: int) -> int:
    name = "roots" if tooth // 100 <= 4 else "deciduous_roots"
    counts = _table(f"chart/species/{case.species}.toml")[name][_jaw(tooth)]
    return max(counts.get(str(tooth % 100), [1]))


def _of(case: Case, finding: Finding) -> Iterator[str]:
    row = _table("chart/findings.toml").get(finding.kind)
    if row is None or not _is_there(case, finding.tooth):
        yield "no such kind or tooth"
        return
    if not _fits(row, finding.value, case.index_scale):
        yield "value"
    if finding.unit != {"length": "mm", "percent": "%"}.get(row["value"]):
        yield "unit"
    if finding.site is not None:
        palatal = finding.site.endswith("palatal") and _jaw(finding.tooth) == "lower"
        if not row.get("sited") or finding.site not in SITES or palatal:
            yield "site"
    if row.get("roots", 1) > _most_roots(case, finding.tooth):
        yield "roots"


def _fits(row: dict[str, Any], value: Any, scale: int) -> bool:
    if row["value"] == "none":
        return value is None
    if row["value"] == "term":
        return str(value) in row["terms"]
    if type(value) not in (int, float) or not math.isfinite(value):
        return False
    most = scale if row["most"] == "scale" else row["most"]
    whole = row["value"] == "length" or value == int(value)
    return bool(whole and row.get("least", 0) <= value <= most)


def _side_by_side(findings: Sequence[Finding]) -> Iterator[str]:
    table = _table("chart/findings.toml")
    places = Counter((each.tooth, each.kind, _side(each.site)) for each in findings)
    yield from (f"twice: {place}" for place, times in places.items() if times > 1)
    for tooth in {each.tooth for each in findings}:
        here = [each for each in findings if each.tooth == tooth and each.kind in table]
        kinds = {each.kind for each in here}
        rooted = kinds & {"retained_root", "root_remnant"}
        on_missing = {
            kind
            for kind in kinds
            if table[kind].get("with_missing") or (rooted and table[kind].get("with_root"))
        }
        if "missing" in kinds and kinds - on_missing - {"missing"}:
            yield f"{tooth} is missing and has {kinds}"
        sections = {kind: table[kind].get("section", "charting") for kind in kinds}
        in_mouth = {kind for kind in kinds if sections[kind] == "charting"}
        if "normal" in kinds and in_mouth - {"normal"}:
            yield f"{tooth} is normal and has {in_mouth}"
        on_film = {kind for kind in kinds if sections[kind] == "radiographs"}
        on_film |= kinds & {"unerupted", "retained_root"}
        looks_normal = any((e.kind, e.value) == ("radiographed", "normal") for e in here)
        if looks_normal and on_film - {"radiographed", "root_length"}:
            yield f"{tooth} is normal on the radiograph and has {on_film}"


def _side(site: str | None) -> str | None:
    for other, name in _ONE_SIDE.items():
        if site is not None and site.endswith(other):
            return site.removesuffix(other) + name
    return site


def _of_observation(case: Case, seen: Observation) -> Iterator[str]:
    row = _table("chart/observations.toml").get(seen.kind)
    if row is None:
        yield "no such kind"
        return
    if not _fits({"most": 0, **row}, seen.value, case.index_scale):
        yield "value"
    needs_place = row.get("placed") or row.get("paired")
    if (seen.place is None and needs_place) or (
        seen.place is not None and seen.place not in row.get("places", ())
    ):
        yield "place"
    sizes = seen.size_mm
    if sizes and (not row.get("size") or len(sizes) > 2 or not all(0 < e <= 200 for e in sizes)):
        yield "size"
    for word, words in ((seen.colour, "colours"), (seen.surface, "surfaces")):
        if word is not None and word not in row.get(words, ()):
            yield words
    if seen.volume_ml is not None and not 0 < seen.volume_ml <= 20:
        yield "volume"
    if (seen.agent or seen.volume_ml is not None) and not row.get("agents"):
        yield "agent"
    if seen.tooth is not None and not (row.get("near_tooth") and _is_there(case, seen.tooth)):
        yield "tooth"
    if seen.covered and seen.value != "normal":
        yield "covered"


def _contradictions(observations: Sequence[Observation]) -> Iterator[str]:
    table = _table("chart/observations.toml")
    normal = [each for each in observations if each.value == "normal" and each.kind in table]
    for well in normal:
        side = f"{well.place}_" if well.place else ""
        lesions = {f"{side}{place}" for place in table[well.kind].get("lesion_places", ())}
        for other in observations:
            same = (other.kind, other.place) == (well.kind, well.place)
            if other.value != "normal" and (same or other.place in lesions):
                yield f"{well!r} and {other!r}"
    for each in observations:
        if not table.get(each.kind, {}).get("several"):
            identity = (each.kind, each.place, each.tooth, each.agent)
            if sum((o.kind, o.place, o.tooth, o.agent) == identity for o in observations) > 1:
                yield f"twice: {each!r}"
