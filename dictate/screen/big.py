"""The screen for across the room: the tooth in hand, the last finding or the doubt that waits, how
far, and whether it is listening, each as large as there is room for."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.reactive import reactive

from dictate.screen.account import SIGN_OF
from dictate.screen.big_picture import Asked, BigPicture, picture_of
from dictate.screen.block_letters import SMALL, as_large_as_fits, largest
from dictate.screen.status import HEARING_WORDS, Hearing
from dictate.screen.view import Shown
from dictate.session.session import Session

_LEAST_FOR_LETTERS, _TALL_SCREEN = 22, 36
"""From so many lines on, the bar at the top is in letters of blocks; then that at the bottom is."""
_PROGRESS_BESIDE_TOOTH = 20
_LABEL_WIDTH = 18
_LABELS = {"yes": "YES", "second": "2ND", "third": "3RD"}
"""What is said to choose a reading, in few letters."""
_NO_FINDING = "nothing charted yet"


class BigType(Shown):
    """What a session has come to, in large type; nothing before the first `show`."""

    COMPONENT_CLASSES = {  # noqa: RUF012
        "big--heard", "big--stopped", "big--waiting", "big--speaking",
        "big--tooth", "big--finding", "big--question", "big--answer", "big--refused",
        "big--charted", "big--progress", "big--left",
    }  # fmt: skip
    DEFAULT_CSS = """
    BigType {
        height: 1fr;
        text-wrap: nowrap;
        .big--heard, .big--speaking { color: $background; background: $foreground; }
        .big--stopped, .big--refused { color: white; background: $error; text-style: bold; }
        .big--waiting, .big--question { color: black; background: $warning; text-style: bold; }
        .big--heard, .big--speaking, .big--finding, .big--answer { text-style: bold; }
        .big--charted { text-style: bold; }
        .big--answer { color: $background; background: $foreground; }
        .big--left { color: $secondary; }
    }
    """
    ALLOW_SELECT = False

    picture: reactive[BigPicture | None] = reactive(None)

    hearing: Hearing = "typing"
    """Whether anything is heard, as it is shown the next time."""

    def show(self, session: Session) -> None:
        """Show a session as it stands, and whether it is heard."""
        self.picture = picture_of(session, self.hearing)

    def render(self) -> Content:
        """Draw it from top to bottom; all lines together are as many as there are."""
        picture, width, height = self.picture, self.content_size.width, self.content_size.height
        if picture is None or width < 1 or height < 1:
            return Content()
        top, bottom = self._draw_hearing(picture), self._draw_progress(picture)
        room = height - len(top) - len(bottom)
        share = 0.4 if picture.asked else 0.55
        tooth = self._draw_tooth(picture, max(1, int(room * share)))
        rest = max(0, room - len(tooth) - 1)
        middle = self._draw_asked(picture.asked, rest) if picture.asked else None
        if middle is None:
            middle = self._draw_finding(picture, rest)
        lines = [*top, *tooth, Content(), *middle[:rest]]
        lines += [Content()] * (height - len(bottom) - len(lines))
        return Content("\n").join([*lines, *bottom])

    @property
    def _is_tall(self) -> bool:
        return self.content_size.height >= _TALL_SCREEN

    def _styled(self, lines: Sequence[str], name: str, across: bool = False) -> list[Content]:
        """Return lines in an ink; a bar from edge to edge where it goes `across`."""
        style, width = self.get_visual_style(f"big--{name}"), self.content_size.width
        if across:
            return [Content.styled(f" {line}"[:width].ljust(width), style) for line in lines]
        return [Content.styled(line, style) for line in lines]

    def _draw_hearing(self, picture: BigPicture) -> list[Content]:
        marked = picture.hearing in ("stopped", "waiting", "speaking")
        words = HEARING_WORDS[picture.hearing]
        width, height = self.content_size.width - 2, self.content_size.height
        lines = as_large_as_fits(words, width, 1)
        sign, _, state = words.partition(" ")
        room = 4 if self._is_tall else 3 if height >= _LEAST_FOR_LETTERS else 1
        if drawn := largest(state, width - 3, room):
            lines = [f"{sign if row == 1 else ' '}  {line}" for row, line in enumerate(drawn)]
        return self._styled(lines, picture.hearing if marked else "heard", across=True)

    def _draw_tooth(self, picture: BigPicture, height: int) -> list[Content]:
        """Return the tooth in hand, beside it how many teeth are charted where both find room."""
        width = self.content_size.width - 2
        alone = as_large_as_fits(picture.tooth, width, height)
        share = f"{picture.examined}/{picture.expected}"
        column = max(len(line) for line in alone)
        beside = largest(share, width - column - 4, min(4, height)) or []
        if width - column < _PROGRESS_BESIDE_TOOTH or len(alone) < len(beside):
            beside = []
        lines = []
        for number, line in enumerate(alone):
            from_end = number - len(alone) + len(beside)
            right = beside[from_end] if from_end >= 0 and beside else ""
            gap = " " * (width - len(line) - len(right)) if right else ""
            lines.append(f" {line}{gap}{right}")
        return self._styled(lines, "tooth")

    def _draw_finding(self, picture: BigPicture, height: int) -> list[Content]:
        """Return the last finding, above it what became of the last utterance where that is
        something else."""
        lines: list[Content] = []
        if picture.remark:
            lines = self._draw_remark(*picture.remark, height // 2)
        room = max(1, height - len(lines) - bool(lines))
        words = picture.finding or _NO_FINDING
        drawn = as_large_as_fits(words, self.content_size.width - 2, room)
        name = "finding" if picture.finding else "left"
        gap = [Content()] if lines else []
        return [*lines, *gap, *self._styled([f" {line}" for line in drawn], name)]

    def _draw_remark(self, outcome: str, words: str, height: int) -> list[Content]:
        width = self.content_size.width - 2
        if outcome != "refused":
            remark = f"{SIGN_OF['charted']} {words}"
            return self._styled(as_large_as_fits(remark, width, 1), "charted", across=True)
        sentence = as_large_as_fits(words, width, max(2, height - 4))
        heading = largest("refused", width, height - len(sentence)) or ["✗ REFUSED"]
        return self._styled([*heading, *sentence], "refused", across=True)

    def _draw_asked(self, asked: Asked, height: int) -> list[Content]:
        """Return the question and what each answer would chart, all answers equally high."""
        width = self.content_size.width - 2
        more = f"   ({asked.more} more after this)" if asked.more else ""
        question = as_large_as_fits(f"? {asked.question}{more}", width, max(1, height // 5))
        lines = self._styled(question, "question", across=True)
        each = max(1, (height - len(lines)) // len(asked.readings))
        for name, words in asked.readings:
            room = each - 1 if each > 3 else each
            drawn = as_large_as_fits(words, width - _LABEL_WIDTH, room)
            lines += self._draw_reading(name, drawn)
            lines += [Content()] * (each - len(drawn) if each > 3 else 0)
        return lines

    def _draw_reading(self, name: str, drawn: Sequence[str]) -> list[Content]:
        style = self.get_visual_style("big--answer")
        finding = self.get_visual_style("big--finding")
        label = SMALL.draw(_LABELS[name]) if len(drawn) >= SMALL.lines else [_LABELS[name]]
        first = (len(drawn) - len(label)) // 2
        lines = []
        for number, line in enumerate(drawn):
            here = label[number - first] if 0 <= number - first < len(label) else ""
            box = f" {here}".ljust(_LABEL_WIDTH - 3)
            lines.append(Content.assemble(" ", (box, style), "  ", (line, finding)))
        return lines

    def _draw_progress(self, picture: BigPicture) -> list[Content]:
        """Return how many teeth are charted, in words and as a bar."""
        width = self.content_size.width
        passed_over = f", {picture.skipped} skipped" if picture.skipped else ""
        words = f" {picture.examined} of {picture.expected} teeth charted{passed_over} "
        beside = len(words) if not self._is_tall else 1
        room = max(1, width - beside - 1)
        full = room * picture.examined // max(1, picture.expected)
        ink, left = self.get_visual_style("big--progress"), self.get_visual_style("big--left")
        bar = Content.assemble(("█" * full, ink), ("·" * (room - full), left))
        if not self._is_tall:
            return [Content.styled(words, ink) + bar]
        drawn = largest(words.strip(), width - 2, 3) or [words.strip()]
        return [
            *self._styled([f" {line}" for line in drawn], "progress"),
            *[Content(" ") + bar] * 2,
        ]
