"""Where the second screen is and what opens it, on lines above the line to type on."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive
from textual.style import Style
from textual.widget import Widget

from dictate.share.door_messages import Code, Serving

_WARNED_FROM = 3
"""Wrong codes: one or two are slips of the finger."""


class SecondScreen(Widget):
    """The address and the codes; the fingerprint of the certificate while nobody is watching. A
    click on “turn away” asks the program to let every second screen go."""

    COMPONENT_CLASSES = {"second-screen--code", "second-screen--problem"}  # noqa: RUF012
    DEFAULT_CSS = """
    SecondScreen {
        height: auto;
        background: $panel;
        .second-screen--code { color: $background; background: $foreground; text-style: bold; }
        .second-screen--problem { color: white; background: $error; text-style: bold; }
    }
    """
    ALLOW_SELECT = False

    serving: reactive[Serving | None] = reactive(None, layout=True)
    code: reactive[Code | None] = reactive(None, layout=True)
    write_code: reactive[str] = reactive("", layout=True)
    watching: reactive[int] = reactive(0, layout=True)
    writing: reactive[int] = reactive(0, layout=True)
    wrong_to_write: reactive[int] = reactive(0, layout=True)
    problem: reactive[str] = reactive("", layout=True)

    def render(self) -> Content:
        """Draw the lines."""
        if self.problem:
            style = self.get_visual_style("second-screen--problem")
            return Content.styled(f"No second screen: {self.problem}", style)
        if self.serving is None or self.code is None:
            return Content("Second screen: getting ready")
        code = self.get_visual_style("second-screen--code")
        lines = [
            Content.assemble(f"2nd screen {self.serving.url} code ", (f" {self.code.code} ", code))
        ]
        if self.watching:
            lines.append(self._watching(code))
        elif self.serving.fingerprint:
            lines.append(Content(f"SHA-256 {self.serving.fingerprint}"))
        if warning := self._warning(self.code.wrong):
            lines.append(warning)
        return Content("\n").join(lines)

    def _watching(self, code: Style) -> Content:
        away = code + Style.from_meta({"@click": "app.turn_away"})
        return Content.assemble(
            f"{self.watching} watching, {self.writing} can write; code to write ",
            (f" {self.write_code} ", code),
            "   ",
            (" turn away ", away),
        )

    def _warning(self, wrong_to_look: int) -> Content | None:
        wrong = wrong_to_look + self.wrong_to_write
        if wrong < _WARNED_FROM:
            return None
        style = self.get_visual_style("second-screen--problem")
        return Content.styled(f"{wrong} wrong codes were tried on the second screen.", style)
