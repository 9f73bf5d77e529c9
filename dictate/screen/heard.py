"""What is being heard and what became of it: the level, the words so far, the last utterances."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from dictate.screen.account import SIGN_OF, Account
from dictate.screen.legend import Legend
from dictate.screen.level import LevelBar
from dictate.text import harmless


class Live(Widget):
    """The words so far of what is being said."""

    DEFAULT_CSS = """
    Live { height: 1; text-wrap: nowrap; text-overflow: ellipsis; color: $secondary; }
    Live.-speaking { color: $foreground; text-style: bold; }
    """

    words: reactive[str] = reactive("")
    idle: reactive[str] = reactive("")

    def watch_words(self, words: str) -> None:
        """Stand out while something is being said."""
        self.set_class(bool(words), "-speaking")

    def render(self) -> Content:
        """Draw the words, their end where there is no room for all of them."""
        if not self.words:
            return Content(self.idle)
        line = Content(f"» {harmless(self.words)} …")
        excess = line.cell_length - self.size.width
        return line if excess <= 0 else Content("…") + line[excess + 1 :]


class Utterances(Widget):
    """The last utterances, the latest first: outcome, words, and what they became."""

    COMPONENT_CLASSES = {  # noqa: RUF012
        "utterances--charted", "utterances--query", "utterances--refused", "utterances--older",
        "utterances--result",
    }  # fmt: skip
    DEFAULT_CSS = """
    Utterances {
        height: 1fr;
        .utterances--charted { color: $success; text-style: bold; }
        .utterances--query { color: black; background: $warning; text-style: bold; }
        .utterances--refused { color: white; background: $error; text-style: bold; }
        .utterances--result { text-style: bold; }
        .utterances--older { color: $secondary; }
    }
    """

    accounts: reactive[tuple[Account, ...]] = reactive(())

    def render(self) -> Content:
        """Draw as many utterances as there is room for; "…" where the last one goes on."""
        height = max(1, self.size.height)
        lines: list[Content] = []
        for number, account in enumerate(self.accounts):
            lines += self._draw(account, latest=number == 0)
            if len(lines) >= height:
                break
        if len(lines) > height:
            last = lines[height - 1].truncate(max(4, self.size.width - 2))
            lines = [*lines[: height - 1], last + " …"]
        return Content("\n").join(lines)

    def _draw(self, account: Account, latest: bool) -> list[Content]:
        """Return the lines of an utterance, what it became set in by two columns."""
        width = max(10, self.size.width)
        older = self.get_visual_style("utterances--older")
        first = Content.assemble(
            (
                f" {SIGN_OF[account.outcome]} {account.outcome} ",
                self.get_visual_style(f"utterances--{account.outcome}"),
            ),
            (f" “{harmless(account.words)}”", "" if latest else older),
            f" – {account.since}" if account.since else "",
        )
        result = Content.styled(
            harmless(account.result),
            self.get_visual_style("utterances--result") if latest else older,
        )
        beginning, *rest = first.wrap(width - 3)
        if result:
            rest += result.wrap(width - 3)
        return [beginning, *(Content("   ") + line for line in rest)]


class HeardPanel(Vertical):
    """The level, the words so far, the last utterances; below them what the signs mean."""

    DEFAULT_CSS = """
    HeardPanel {
        width: 3fr;
        padding: 0 1;
        border-left: solid $secondary;
        &.-typing LevelBar, &.-typing Live, &.-tight LevelBar { display: none; }
    }
    """

    def compose(self) -> ComposeResult:
        """Lay out the parts from top to bottom."""
        yield LevelBar()
        yield Live()
        yield Utterances()
        yield Legend()

    def on_resize(self) -> None:
        """Where there is little room, words go before the level."""
        self.set_class(self.size.height < 4, "-tight")

    def show_utterances(self, accounts: Sequence[Account]) -> None:
        """Show the last utterances, the latest first."""
        self.query_one(Utterances).accounts = tuple(accounts)
