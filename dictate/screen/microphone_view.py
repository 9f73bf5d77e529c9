"""Choosing a microphone, with a live test of it, which keeps nothing and charts nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Label, OptionList, Static
from textual.widgets.option_list import Option

from dictate.errors import DictateError
from dictate.listening.listener import Level, Stopped
from dictate.listening.metering import Meter, MeterEvent, RunningMicrophone, StoppableSource
from dictate.screen.keys import Key, Keys
from dictate.screen.level import LevelBar
from dictate.speech.level_watch import SENTENCES, LevelWatch, Watched
from dictate.speech.microphone import Microphone, device_name, input_devices, look_again
from dictate.text import harmless

OpenMicrophone: TypeAlias = Callable[[str | None], StoppableSource]
"""Opens the microphone of this name, the system's own choice for None, or raises DictateError."""


class Devices:
    """The input devices of this machine."""

    def names(self) -> list[str]:
        """Return their names. Raises DictateError without PortAudio."""
        return input_devices()

    def name_of(self, choice: str | None) -> str:
        """Return the device's own name for a choice. Raises DictateError where there is none."""
        return device_name(choice)

    def look_again(self) -> None:
        """Look for devices that were connected since. Nothing may be using sound meanwhile."""
        look_again()


OWN_CHOICE = "the system's own choice"
NO_DEVICE = "No microphone was found: plug one in, then press R to look again."
_SHOWN_EVERY_S = 0.25
_JOIN_S = 1.0
_KEYS = (
    Key("↑", "up", "screen.move(-1)"), Key("↓", "down", "screen.move(1)"),
    Key("Enter", "use this one", "screen.use"), Key("R", "look again", "screen.refresh_devices"),
    Key("Esc", "leave it as it was", "screen.leave"),
)  # fmt: skip


class _Metered(Message):
    """What a meter told, on its way from its thread to the screen's."""

    def __init__(self, meter: Meter | None, event: MeterEvent) -> None:
        super().__init__()
        self.meter = meter
        self.event = event


class MicrophoneView(ModalScreen[str | None]):
    """The microphones; the one that the cursor is on is tested. It ends with the name that was
    chosen, "" for the system's own choice, or None where all stays as it was.

    A microphone that an examination is listening with (`running`) is not opened again: the levels
    shown are those that the examination hears.
    """

    CSS = """
    MicrophoneView { background: transparent; }
    MicrophoneView #microphones { margin-top: 1; height: 1fr; background: $background; }
    MicrophoneView #title { width: 100%; padding: 0 1; background: $panel; text-style: bold; }
    MicrophoneView OptionList, MicrophoneView OptionList:focus {
        height: 1fr; border: none; background: $background; padding: 0; color: $foreground;
    }
    MicrophoneView OptionList > .option-list--option-highlighted {
        color: $background; background: $foreground; text-style: bold;
    }
    MicrophoneView #test { height: 6; padding: 0 1; border-top: solid $secondary; }
    MicrophoneView #verdict { text-style: bold; }
    """
    BINDINGS = [  # noqa: RUF012
        Binding("r", "refresh_devices"),
        Binding("escape", "leave"),
    ]

    def __init__(
        self,
        chosen: str,
        running: RunningMicrophone | None = None,
        devices: Devices | None = None,
        open_microphone: OpenMicrophone | None = None,
    ) -> None:
        super().__init__()
        self._chosen = chosen
        self._in_use = running
        self._devices = devices or Devices()
        self._open = open_microphone or Microphone
        self._choices: list[str] = []
        self._meter: Meter | None = None
        self._unwatch: Callable[[], None] | None = None
        self._watch = LevelWatch()
        self._problem = ""
        self._whose = ""

    def compose(self) -> ComposeResult:
        """Lay out the screen from top to bottom."""
        with Vertical(id="microphones"):
            yield Label("MICROPHONE   the one that the cursor is on is tested", id="title")
            yield OptionList(markup=False)
            with Vertical(id="test"):
                yield Static(id="whose", markup=False)
                yield LevelBar()
                yield Static(id="floor", markup=False)
                yield Static(id="verdict", markup=False)
            yield Keys()

    def on_mount(self) -> None:
        """Show the microphones and test the one in use."""
        self.query_one(Keys).keys = _KEYS
        self.set_interval(_SHOWN_EVERY_S, self._show_found)
        self._list()

    def on_unmount(self) -> None:
        """Let go of the microphone."""
        self._let_go()

    def action_move(self, step: int) -> None:
        """Go to the microphone before or after."""
        options = self.query_one(OptionList)
        if step > 0:
            options.action_cursor_down()
        else:
            options.action_cursor_up()

    def action_use(self) -> None:
        """Use the microphone that the cursor is on."""
        if (choice := self._choice()) is not None:
            self._end_test()
            self.dismiss(choice)

    def action_leave(self) -> None:
        """Leave the setting as it was."""
        self._end_test()
        self.dismiss(None)

    def action_refresh_devices(self) -> None:
        """Look for microphones that were connected since."""
        if self._in_use is not None:
            # To look again, PortAudio closes every stream, those of the examination too.
            self._whose = (
                "New microphones are found when dictate is started again: this case uses sound."
            )
            self._show_found()
            return
        self._end_test()
        try:
            self._devices.look_again()
        except DictateError as error:
            self._problem = str(error)
        self._list()

    @on(OptionList.OptionHighlighted)
    def _take_highlighted(self) -> None:
        self._begin_test()

    @on(OptionList.OptionSelected)
    def _take_selected(self) -> None:
        self.action_use()

    @on(_Metered)
    def _take_metered(self, message: _Metered) -> None:
        # What an earlier meter still tells is about another microphone.
        if message.meter is not self._meter:
            return
        match message.event:
            case Level() as level:
                self._take_level(level)
            case Stopped(problem):
                self._problem = problem or "The microphone has ended: choose another one."
                self.query_one(LevelBar).clear()
                self._show_found()

    def _take_level(self, level: Level) -> None:
        self._watch.take(level.dbfs, level.clipping)
        self.query_one(LevelBar).take(level.dbfs, level.clipping)

    def _choice(self) -> str | None:
        at = self.query_one(OptionList).highlighted
        return self._choices[at] if at is not None and at < len(self._choices) else None

    def _list(self) -> None:
        """Fill the list, with the cursor on the microphone of the settings."""
        self._problem = ""
        try:
            names = self._devices.names()
        except DictateError as error:
            names, self._problem = [], str(error)
        if not names:
            self._problem = self._problem or NO_DEVICE
        options = self.query_one(OptionList)
        options.clear_options()
        self._choices = ["", *dict.fromkeys(names)] if names else []
        if self._chosen and self._chosen not in self._choices:
            self._choices.append(self._chosen)
        options.add_options(Option(Content(self._line(each, names))) for each in self._choices)
        options.focus()
        if self._choices:
            options.highlighted = self._choices.index(self._chosen)
        self._show_found()

    def _line(self, choice: str, names: list[str]) -> str:
        mark = "● " if choice == self._chosen else "  "
        missing = "   (not found by this name in full)" if choice and choice not in names else ""
        return f"{mark}{harmless(choice) or OWN_CHOICE}{missing}"

    def _begin_test(self) -> None:
        """Test the microphone that the cursor is on."""
        self._end_test()
        choice = self._choice()
        if choice is None:
            return
        self._watch = LevelWatch()
        self._problem = ""
        if self._in_use is not None and self._is_in_use(choice, self._in_use):
            self._whose = "This case listens with it: what you say is charted as ever."
            self._unwatch = self._in_use.watch(self._take_level)
        else:
            self._whose = self._whose_test()
            self._start_meter(choice)
        self._show_found()

    def _whose_test(self) -> str:
        if self._in_use is None or self._in_use.name is None:
            return "A test: what you say is not kept."
        return f"A test. The case goes on listening with {harmless(self._in_use.name)}."

    def _start_meter(self, choice: str) -> None:
        def tell(event: MeterEvent) -> None:
            self.post_message(_Metered(meter, event))

        meter = Meter(lambda: self._open(choice or None), tell)
        self._meter = meter
        meter.start()

    def _is_in_use(self, choice: str, running: RunningMicrophone) -> bool:
        try:
            return running.name is not None and running.name == self._devices.name_of(
                choice or None
            )
        except DictateError:
            return False

    def _end_test(self) -> None:
        self._let_go()
        self.query_one(LevelBar).clear()

    def _let_go(self) -> None:
        meter, self._meter = self._meter, None
        if meter is not None:
            meter.stop()
            meter.join(_JOIN_S)
        if self._unwatch is not None:
            self._unwatch()
            self._unwatch = None

    def _show_found(self) -> None:
        if self._unwatch is not None and self._in_use is not None and self._in_use.name is None:
            self._problem = "This case has stopped listening with it: Esc goes back to see why."
        found = Watched("waiting") if self._problem else self._watch.found()
        self.query_one("#whose", Static).update(Content("" if self._problem else self._whose))
        self.query_one("#floor", Static).update(Content(_levels(found)))
        verdict = self._problem or SENTENCES[found.finding]
        self.query_one("#verdict", Static).update(Content(harmless(verdict)))


def _levels(found: Watched) -> str:
    if found.floor_dbfs is None:
        return ""
    voice = "" if found.voice_dbfs is None else f"   voice {found.voice_dbfs:.0f} dBFS"
    over = (
        ""
        if found.voice_dbfs is None
        else f"   {found.voice_dbfs - found.floor_dbfs:.0f} dB above the room"
    )
    return f"room {found.floor_dbfs:.0f} dBFS{voice}{over}"
