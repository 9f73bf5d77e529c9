"""What was observed beside the teeth in a part of the visit, and what was not spoken of yet."""

from __future__ import annotations

from collections.abc import Iterable

from dictate.assessment.visit_parts import sections_left
from dictate.chart.chart import Chart
from dictate.chart.events import Context
from dictate.chart.observation import Observation, Section, observation_kinds

SECTIONS: dict[Context, tuple[Section, ...]] = {
    "awake": ("head", "mouth"),
    "soft_tissue": ("soft_tissue",),
    "charting": (),
    "radiographs": ("radiographs",),
    "treatment": ("treatment",),
}
"""The sections of the table of observations that belong to each part of the visit."""

SECTION_TITLES: dict[Section, str] = {
    "head": "Head",
    "mouth": "Mouth, seen awake",
    "soft_tissue": "Soft tissues",
    "radiographs": "Radiographic views",
    "treatment": "Regional blocks given",
}


def observed_in(chart: Chart, context: Context) -> tuple[Observation, ...]:
    """Return the observations that belong to a part of the visit, in the order of charting."""
    return tuple(each for each in chart.observations if each.row.section in SECTIONS[context])


def to_speak_of(context: Context) -> bool:
    """Return whether a part of the visit is about what is beside the teeth: all of it is to be
    spoken of, while views and blocks are as many as there are."""
    return context in ("awake", "soft_tissue")


def unspoken(chart: Chart, section: Section) -> tuple[str, ...]:
    """Return the titles of what has neither been spoken of in a section nor been covered."""
    lacking = (each.lacking for each in sections_left(chart) if each.section == section)
    return tuple(title[:1].lower() + title[1:] for titles in lacking for title in titles)


def observation_names(named: Iterable[tuple[str, str | None]]) -> tuple[str, ...]:
    """Return the names of kinds at places; of a paired part without a side where both are
    named: "eye" for both, "left eye" for one."""
    places: dict[str, list[str | None]] = {}
    for kind, place in named:
        places.setdefault(kind, []).append(place)
    names: list[str] = []
    for kind, at in places.items():
        title = observation_kinds()[kind].title
        title = title[:1].lower() + title[1:]
        if observation_kinds()[kind].paired and {"left", "right"} <= set(at):
            names.append(title)
        else:
            names += [f"{place.replace('_', ' ')} {title}" if place else title for place in at]
    return tuple(names)
