"""The settings, or the cases, over the chart: what is said meanwhile is charted as ever."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dictate.listening.metering import RunningMicrophone
from dictate.screen.actions import View
from dictate.screen.attending import Attending
from dictate.screen.case_list import CaseList
from dictate.screen.settings_view import SettingsView
from dictate.screen.theme import theme_name
from dictate.session.session import Session
from dictate.settings import Settings
from dictate.sounds.answers import Answers

if TYPE_CHECKING:
    from dictate.store.cases import CaseStore

_OVER_THE_CHART = ("turn_attention", "turn_sounds", "silence", "leave_program")
"""What keys still do while the chart is covered: nobody answers what they cannot see."""


class Adjusting(Attending):
    """The part of the program that shows the settings and takes over what was changed there, and
    shows the cases.

    `running` tells the levels of the microphone that listens, for its test. `store` has the cases;
    without it there are none to show.
    """

    def __init__(
        self,
        session: Session,
        settings: Settings,
        answers: Answers | None,
        running: RunningMicrophone | None,
        store: CaseStore | None,
    ) -> None:
        super().__init__(session, settings.attention, answers)
        self.settings_in_force = settings
        self.running_microphone = running or RunningMicrophone()
        self._store = store
        self._waiting_before = 0

    async def action_show_settings(self) -> None:
        """Show the settings."""
        if not self.is_covered:
            view = SettingsView(self.settings_in_force, self.take_settings, self.running_microphone)
            await self.push_screen(view)
            self.show_waiting()

    async def action_show_cases(self) -> None:
        """Show the cases, to look at only; a question that arises meanwhile closes the list."""
        if self._store is None:
            self.tell_for_a_while("cases", "There are no cases here: see “dictate cases”.")
        elif not self.is_covered:
            self._waiting_before = len(self._session.doubts)
            await self.push_screen(CaseList(self._store, open_case=False))

    def action_show(self, name: View) -> None:
        """Show a view, or the chart, from below what covers it."""
        covered = self.is_covered
        while self.is_covered:
            self.pop_screen()
        if not covered or name != self.view:
            super().action_show(name)

    @property
    def is_covered(self) -> bool:
        """Whether the settings or the cases cover the chart."""
        return self.screen is not self.default_screen

    def take_settings(self, settings: Settings) -> None:
        """Take over from changed settings what takes effect at once."""
        before, self.settings_in_force = self.settings_in_force, settings
        if settings.screen.theme != before.screen.theme:
            self.theme = theme_name(settings.screen.theme)
        if settings.screen.big_type != before.screen.big_type:
            self.turn_to_big_type(settings.screen.big_type)
        if self._answers is not None and settings.sounds != before.sounds:
            self._answers.use(settings.sounds)

    def turn_to_big_type(self, wanted: bool) -> None:
        """Show the big type below the settings, or the chart."""
        if wanted != (self.view == "big"):
            super().action_show("big")

    def show_waiting(self) -> None:
        """Say on the settings, where they cover the chart, how many questions wait; where the cases
        do and a question has arisen, go back to it."""
        for screen in self.screen_stack:
            if isinstance(screen, SettingsView):
                screen.show_waiting(len(self._session.doubts))
        if isinstance(self.screen, CaseList) and len(self._session.doubts) > self._waiting_before:
            self.pop_screen()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave keys to what covers the chart."""
        if self.is_covered and action not in _OVER_THE_CHART:
            return False
        return super().check_action(action, parameters)
