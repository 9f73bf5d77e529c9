"""The settings over the chart: what is said meanwhile is heard and charted as ever."""

from __future__ import annotations

from dictate.metering import RunningMicrophone
from dictate.screen.actions import View
from dictate.screen.attending import Attending
from dictate.screen.settings_view import SettingsView
from dictate.screen.theme import theme_name
from dictate.session import Session
from dictate.settings import Settings
from dictate.sounds.answers import Answers

_OVER_THE_CHART = ("turn_attention", "silence", "leave_program")
"""What keys still do while the chart is covered: nobody answers what they cannot see."""


class Adjusting(Attending):
    """The part of the program that shows the settings and takes over what was changed there.

    `running` tells the levels of the microphone that listens, for its test.
    """

    def __init__(
        self,
        session: Session,
        settings: Settings,
        answers: Answers | None,
        running: RunningMicrophone | None,
    ) -> None:
        super().__init__(session, settings.attention, answers)
        self.settings_in_force = settings
        self.running_microphone = running or RunningMicrophone()

    async def action_show_settings(self) -> None:
        """Show the settings."""
        if not self.is_covered:
            view = SettingsView(self.settings_in_force, self.take_settings, self.running_microphone)
            await self.push_screen(view)
            self.show_waiting()

    def action_show(self, name: View) -> None:
        """Show a view, or the chart, from below what covers it."""
        covered = self.is_covered
        while self.is_covered:
            self.pop_screen()
        if not covered or name != self.view:
            super().action_show(name)

    @property
    def is_covered(self) -> bool:
        """Whether settings cover the chart."""
        return self.screen.is_modal

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
        """Say on the settings, where they cover the chart, how many questions wait."""
        for screen in self.screen_stack:
            if isinstance(screen, SettingsView):
                screen.show_waiting(len(self._session.doubts))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave keys to the settings while they cover the chart."""
        if self.is_covered and action not in _OVER_THE_CHART:
            return False
        return super().check_action(action, parameters)
