"""The settings, by section: name, meaning, default, what each may be and when it takes effect.

Every key has a default, so the file may be missing or hold what differs only. The command line
wins over the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from dictate.errors import DictateError
from dictate.settings.key_names import is_key

ReadBack: TypeAlias = Literal["off", "doubts", "all"]
"""What is read back by a voice: nothing, what is asked, or all that becomes of an utterance."""

Effect: TypeAlias = Literal["now", "listening", "case", "start"]
"""When a change takes effect: at once, when listening begins anew, with the next new case, or when
the program is started again."""


@dataclass(frozen=True)
class Shown:
    """How people see a setting: its name, what it may be in words, when a change takes effect, the
    words for each of few values, by how much an arrow key changes a number, its unit, what is
    shown for an empty text, and whether it is an address, whose password is never shown: one that
    is wrong would lock everybody out, so it is set in the file only."""

    name: str
    allowed: str
    effect: Effect
    words: tuple[tuple[Any, str], ...] = ()
    step: float | None = None
    unit: str = ""
    empty: str = "none"
    address: bool = False


_ON_OFF = ((True, "on"), (False, "off"))


class _Section(BaseModel):
    """A section of the file."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class ChartSettings(_Section):
    """How a new case is charted."""

    index_scale: Annotated[
        Literal[3, 4], Shown("Grades go to", "3 or 4", "case", ((4, "4"), (3, "3")))
    ] = Field(default=4, description="Top grade of calculus, plaque, gingivitis.")


class SpeechSettings(_Section):
    """What listens, and with what."""

    engine: Annotated[
        Literal["auto", "both", "vosk", "sphinx"],
        Shown(
            "Engine",
            '"auto", "both", "vosk" or "sphinx"',
            "start",
            (("auto", "auto"), ("both", "both"), ("vosk", "vosk"), ("sphinx", "sphinx")),
        ),
    ] = Field(default="auto", description="What hears words; auto: the best there is.")
    microphone: Annotated[
        str,
        Shown(
            "Microphone",
            "the name of an input device or part of it, or nothing",
            "listening",
            empty="the system's own",
        ),
    ] = Field(
        default="",
        max_length=200,
        pattern=r"^[^\x00-\x1f\x7f]*$",
        description="Which one listens.",
    )


class SoundSettings(_Section):
    """How the tool answers by sound. `volume` is a share of full scale, `rate` in words a minute,
    `echo_s` in s."""

    tones: Annotated[bool, Shown("Tones", "true or false", "now", _ON_OFF)] = Field(
        default=True, description="A tone tells what became of what was said."
    )
    volume: Annotated[float, Shown("Volume", "a number from 0 to 1", "now", step=0.1)] = Field(
        default=0.5, ge=0, le=1, description="Of tones and of what is read back."
    )
    read_back: Annotated[
        ReadBack,
        Shown(
            "Read back",
            '"off", "doubts" or "all"',
            "now",
            (("off", "off"), ("doubts", "what is asked"), ("all", "everything")),
        ),
    ] = Field(default="off", description="What a voice reads back.")
    rate: Annotated[
        int,
        Shown("Reading speed", "a whole number from 80 to 400", "now", step=10, unit="words/min"),
    ] = Field(default=170, ge=80, le=400, description="How fast it reads back.")
    voice: Annotated[
        str,
        Shown("Reading voice", 'the name of an espeak-ng voice, such as "en-us" or "en-gb"', "now"),
    ] = Field(
        default="en-us",
        pattern=r"^[A-Za-z][A-Za-z0-9+_-]*$",
        description="The espeak-ng voice that reads back.",
    )
    echo_s: Annotated[
        float, Shown("Echo", "a number of seconds from 0 to 2", "now", step=0.1, unit="s")
    ] = Field(
        default=0.2,
        ge=0,
        le=2,
        description="After a sound, so long nothing is heard.",
    )


class AttentionSettings(_Section):
    """How the tool is told to listen or not."""

    name: Annotated[
        str,
        Shown("Name", 'one to three words in small letters, such as "rosie", or nothing', "start"),
    ] = Field(
        default="",
        pattern=r"^([a-z][a-z']*( [a-z][a-z']*){0,2})?$",
        description="Said before “start listening”.",
    )
    foot_switch: Annotated[
        str,
        Shown("Foot-switch", 'one key, such as "f13", "ctrl+b" or "b", or nothing', "start"),
    ] = Field(default="", description="The key that it sends, to listen or stop.")

    @field_validator("foot_switch")
    @classmethod
    def _one_key(cls, value: str) -> str:
        if value and not is_key(value):
            raise ValueError("no such key")
        return value


class ScreenSettings(_Section):
    """How the screen looks."""

    theme: Annotated[
        Literal["dark", "light"],
        Shown("Theme", '"dark" or "light"', "now", (("dark", "dark"), ("light", "light"))),
    ] = Field(default="dark", description="Light on black, or black on white.")
    big_type: Annotated[bool, Shown("Big type", "true or false", "now", _ON_OFF)] = Field(
        default=False, description="Show the tooth in hand in big type."
    )


class StoreSettings(_Section):
    """Where cases are kept."""

    url: Annotated[
        str,
        Shown(
            "Database",
            '"postgresql+psycopg://user@host/database", or nothing',
            "start",
            empty="a file in the data folder",
            address=True,
        ),
    ] = Field(
        default="",
        max_length=2000,
        pattern=r"^([a-z]+(\+[a-z0-9]+)?://[^\x00-\x1f\x7f]+)?$",
        description="The database of all stations, where shared.",
    )


class KeepSettings(_Section):
    """Whether the sound of notes is kept, and how long; `sound_days` in days."""

    note_sound: Annotated[bool, Shown("Note sound", "true or false", "start", _ON_OFF)] = Field(
        default=True, description="Keep the sound of spoken notes."
    )
    sound_days: Annotated[
        int,
        Shown("Kept for", "a whole number of days from 0 to 36500", "start", step=30, unit="days"),
    ] = Field(
        default=0,
        ge=0,
        le=36_500,
        description="Older ones are erased; 0: none is.",
    )


class Settings(_Section):
    """All settings."""

    chart: ChartSettings = Field(default=ChartSettings(), description="a section [chart]")
    speech: SpeechSettings = Field(default=SpeechSettings(), description="a section [speech]")
    sounds: SoundSettings = Field(default=SoundSettings(), description="a section [sounds]")
    attention: AttentionSettings = Field(
        default=AttentionSettings(), description="a section [attention]"
    )
    screen: ScreenSettings = Field(default=ScreenSettings(), description="a section [screen]")
    store: StoreSettings = Field(default=StoreSettings(), description="a section [store]")
    keep: KeepSettings = Field(default=KeepSettings(), description="a section [keep]")


@dataclass(frozen=True)
class Setting:
    """One setting: where it stands, its default, what it means and how people see it."""

    section: str
    key: str
    default: Any
    meaning: str
    shown: Shown

    @property
    def path(self) -> str:
        """The section and the key, as sentences name them."""
        return f"{self.section}.{self.key}"

    def value_in(self, settings: Settings) -> Any:
        """Return its value in these settings."""
        return getattr(getattr(settings, self.section), self.key)

    def shown_in(self, settings: Settings) -> Any:
        """Return its value as it may be shown: an address without its password."""
        value = self.value_in(settings)
        if not (self.shown.address and value):
            return value
        from dictate.store.address import hidden_address

        return hidden_address(value)

    def is_stated_in(self, settings: Settings) -> bool:
        """Return whether the file states it, be it the default."""
        return self.key in getattr(settings, self.section).model_fields_set

    def check(self, value: object) -> None:
        """Raise DictateError, one sentence, for a value that it cannot have."""
        settings_of({self.section: {self.key: value}})

    def from_typed(self, text: str) -> object:
        """Return the value that a person types, which `check` may still refuse."""
        text = text.strip()
        if isinstance(self.default, str):
            return text
        for kind in (int, float):
            try:
                return kind(text.replace(",", "."))
            except ValueError:
                continue
        return text

    def words_of(self, value: object) -> str:
        """Return a value as people read it."""
        if value == "":
            return self.shown.empty
        plain = f"{value} {self.shown.unit}".rstrip()
        return next((words for each, words in self.shown.words if each == value), plain)


def all_settings() -> tuple[Setting, ...]:
    """Return every setting, in the order of the file."""
    return tuple(
        Setting(section, key, field.default, field.description or "", _shown_of(field))
        for section, model in sections().items()
        for key, field in model.model_fields.items()
    )


def sections() -> dict[str, type[BaseModel]]:
    """Return the sections by name."""
    return {name: type(field.default) for name, field in Settings.model_fields.items()}


def settings_of(table: object) -> Settings:
    """Return the settings that a table of the file holds.

    Raises DictateError, one sentence with the key and what is allowed there.
    """
    try:
        return Settings.model_validate(table)
    except ValidationError as error:
        raise DictateError(_sentence(error.errors()[0])) from error


def _shown_of(field: Any) -> Shown:
    return next(each for each in field.metadata if isinstance(each, Shown))


def _sentence(error: Any) -> str:
    """Return what is wrong with a key, and what is allowed there."""
    *within, key = (str(each) for each in error["loc"])
    model: type[BaseModel] = Settings
    for name in within:
        model = sections()[name]
    path = ".".join((*within, key))
    if error["type"] == "extra_forbidden":
        return f"there is no key {path}; it may have {', '.join(model.model_fields)}."
    field = model.model_fields[key]
    allowed = _shown_of(field).allowed if within else field.description
    if within and _shown_of(field).address:
        return f"{path} cannot be what it is; it is {allowed}."
    return f"{path} cannot be {_cut(error['input'])}; it is {allowed}."


def _cut(value: object) -> str:
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) <= 40 else text[:39] + "…"
