"""What was observed beside the teeth in the part of the visit at hand."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.reactive import reactive
from textual.widgets import Static

from dictate.chart.chart import Chart
from dictate.chart.observation import NORMAL, Observation
from dictate.screen.sections import (
    SECTION_TITLES,
    SECTIONS,
    observation_names,
    observed_in,
    to_speak_of,
    unspoken,
)
from dictate.text import harmless


class ObservationsText(Static):
    """The observations, those that were spoken first, in words that need no colour."""

    COMPONENT_CLASSES = {"observations--heading", "observations--of-note"}  # noqa: RUF012
    DEFAULT_CSS = """
    ObservationsText {
        .observations--heading { color: $secondary; }
        .observations--of-note { text-style: bold; }
    }
    """

    def show(self, chart: Chart) -> None:
        """Show the observations that belong to the part at hand."""
        lines = self._spoken_of(chart) if to_speak_of(chart.context) else self._recorded(chart)
        self.update(Content("\n").join(lines))

    def _spoken_of(self, chart: Chart) -> list[Content]:
        observed = observed_in(chart, chart.context)
        said = [each for each in observed if not each.covered]
        covered = observation_names((each.kind, each.place) for each in observed if each.covered)
        normal = observation_names((each.kind, each.place) for each in said if each.value == NORMAL)
        lines = [self._line("said", each) for each in said if each.value != NORMAL]
        lines += [self._list("said normal", normal)] if normal else []
        for section in SECTIONS[chart.context]:
            left = unspoken(chart, section)
            where = SECTION_TITLES[section].lower().split(",")[0]
            lines += [self._list(f"not said yet, {where}", left)] if left else []
        if not any(unspoken(chart, section) for section in SECTIONS[chart.context]):
            lines.append(self._list("not said yet", ("nothing is left",)))
        lines += [self._list("covered as normal", covered)] if covered else []
        return lines

    def _recorded(self, chart: Chart) -> list[Content]:
        lines = [self._line("said", each) for each in observed_in(chart, chart.context)]
        titles = [SECTION_TITLES[section].lower() for section in SECTIONS[chart.context]]
        return lines or [self._list(", ".join(titles), ("none said yet",))]

    def _line(self, word: str, observation: Observation) -> Content:
        heading = self.get_visual_style("observations--heading")
        of_note = self.get_visual_style("observations--of-note")
        style = "" if observation.value == NORMAL else of_note
        return Content.assemble((f"{word}: ", heading), (harmless(observation.words()), style))

    def _list(self, heading: str, names: tuple[str, ...]) -> Content:
        style = self.get_visual_style("observations--heading")
        return Content.assemble((f"{heading}: ", style), "; ".join(names))


class Observations(VerticalScroll):
    """The panel of the observations; it scrolls where they take more room than there is."""

    DEFAULT_CSS = """
    Observations { padding: 0 1; height: 1fr; min-height: 1; scrollbar-size-vertical: 1; }
    """
    can_focus = False

    chart: reactive[Chart | None] = reactive(None)

    def compose(self) -> ComposeResult:
        """Lay out the text."""
        yield ObservationsText(markup=False)

    def watch_chart(self, chart: Chart | None) -> None:
        """Show other observations."""
        if chart is not None:
            self.query_one(ObservationsText).show(chart)
