"""What has been said of a statement so far: the slots that a grammar's tags fill, and the statement
that they make; `Slots.fill` and `Slots.emit` name the tags."""

from __future__ import annotations

from dataclasses import dataclass, field

from dictate.phrases.statements import (
    ChooseTeeth,
    ChooseTooth,
    Clear,
    Command,
    Found,
    Seen,
    Statement,
)

SITE_SAID_FIRST = "!finding_here"
"""The tag of a finding whose site was said before it, and may hold for others too."""


@dataclass
class Slots:
    """What has been said since the last statement, and the tooth named last."""

    said: dict[str, str] = field(default_factory=dict)
    depths: list[int] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    sizes: list[float] = field(default_factory=list)
    tooth: int | None = None
    first: int | None = None

    def fill(self, tag: str) -> None:
        """Take a tag that fills a slot: `name=value`, `name+=value` for one more, or a flag."""
        name, _, value = tag.partition("=")
        if name == "depths+":
            self.depths.append(int(value))
        elif name == "words+":
            self.words.append(value)
        else:
            self.said[name] = value

    def emit(self, statement: str) -> list[Statement]:
        """Return the statements that a tag `!statement` makes of the slots; it empties them."""
        match statement:
            case "tooth":
                return [self._choose()]
            case "of_tooth" | "range_from":
                self.first = self._choose().tooth
                self.tooth = self.first
                return []
            case "range":
                last, self.tooth = self._choose().tooth, None
                return [ChooseTeeth(first=self.first, last=last)]
            case "group":
                self.tooth = None
                return [ChooseTeeth(group="_".join(self._taken_words()) or "all")]
            case "finding":
                return [self._found(self.said.pop("site", None))]
            case "finding_here":
                return [self._found(self.said.get("site"))]
            case "leave_site":
                self.said.pop("site", None)
                return []
            case "depth_run":
                return self._run()
            case "length":
                self.sizes.append(self._number() or 0)
                return []
            case "observation":
                return [self._seen()]
            case "clear":
                tooth = self.tooth if self.said.pop("named", None) is not None else None
                return [Clear(tooth, self.said.pop("kind", None))]
            case "next" | "previous" | "skip":
                self.tooth = None
                return [Command(statement)]
            case "change":
                return [Command("correction", "standing")]
            case _:
                return [Command(statement, self.said.pop("about", None))]

    def _choose(self) -> ChooseTooth:
        quadrant = int(self.said.pop("quadrant"))
        if self.said.pop("deciduous", None) is not None:
            quadrant += 4
        by_name = self.said.pop("by_name", None) is not None and quadrant <= 4
        self.tooth = quadrant * 100 + int(self.said.pop("position"))
        return ChooseTooth(self.tooth, by_name)

    def _number(self) -> int | float | None:
        """Return the number that was said, with its tens, halves and decimals."""
        parts = [self.said.pop(name, None) for name in ("tens", "value")]
        number: int | float | None = sum(int(part) for part in parts if part is not None)
        if parts == [None, None]:
            number = None
        decimals = "".join(self.said.pop(name, "") for name in ("tenths", "hundredths"))
        if self.said.pop("half", None) is not None:
            decimals = "5"
        return number if not decimals else float(f"{number or 0}.{decimals}")

    def _value(self) -> int | float | str | None:
        said = self.said.get("value")
        if said is not None and not said.isdigit():
            return self.said.pop("value")
        return self._number()

    def _found(self, site: str | None) -> Statement:
        value = self._value()
        return Found(self.said.pop("kind"), value, site, self.tooth)

    def _taken_words(self) -> list[str]:
        words, self.words = self.words, []
        return words

    def _seen(self) -> Statement:
        sizes, self.sizes = tuple(self.sizes), []
        term = self.said.pop("term", None)
        near = self.said.pop("near", None) is not None
        volume = self.said.pop("volume", None) is not None
        number = self._number()
        return Seen(
            kind=self.said.pop("kind"),
            value=number if term is None and not volume else term,
            place="_".join(self._taken_words()) or None,
            tooth=self.first if near else None,
            size_mm=sizes,
            colour=self.said.pop("colour", None),
            surface=self.said.pop("surface", None),
            agent=self.said.pop("agent", None),
            volume_ml=number if volume else None,
        )

    def _run(self) -> list[Statement]:
        side = self.said.pop("site")
        sites = (f"mesio{side}", side, f"disto{side}")
        depths, self.depths = self.depths, []
        return [
            Found("pocket", depth, site, self.tooth)
            for site, depth in zip(sites, depths, strict=True)
        ]
