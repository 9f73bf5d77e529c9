"""What a practice has set for itself: settings.toml in the data folder."""

from dictate.settings.file import SETTINGS_FILE, change_setting, read_settings, settings_path
from dictate.settings.sections import (
    AttentionSettings,
    ChartSettings,
    KeepSettings,
    ReadBack,
    ScreenSettings,
    Settings,
    SoundSettings,
    SpeechSettings,
    StoreSettings,
)

__all__ = [
    "SETTINGS_FILE",
    "AttentionSettings",
    "ChartSettings",
    "KeepSettings",
    "ReadBack",
    "ScreenSettings",
    "Settings",
    "SoundSettings",
    "SpeechSettings",
    "StoreSettings",
    "change_setting",
    "read_settings",
    "settings_path",
]
