"""What went wrong and what a person can do about it, on a bar that cannot be missed."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget

from dictate.text import harmless


class Problems(Widget):
    """Sentences, one for each kind of problem. Hidden while there is none."""

    DEFAULT_CSS = """
    Problems {
        height: auto;
        max-height: 6;
        padding: 0 1;
        color: white;
        background: $error;
        text-style: bold;
        display: none;
    }
    Problems.-open { display: block; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._sentences: dict[str, str] = {}

    @property
    def sentences(self) -> dict[str, str]:
        """The sentences that are shown, by kind."""
        return dict(self._sentences)

    def tell(self, kind: str, sentence: str) -> None:
        """Show a sentence in the place of the last one of its kind."""
        self._sentences[kind] = sentence
        self._redraw()

    def clear(self, kind: str) -> None:
        """A problem is over."""
        if self._sentences.pop(kind, None) is not None:
            self._redraw()

    def _redraw(self) -> None:
        self.set_class(bool(self._sentences), "-open")
        self.refresh(layout=True)

    def render(self) -> Content:
        """Draw the sentences."""
        return Content("\n".join(f"! {harmless(each)}" for each in self._sentences.values()))
