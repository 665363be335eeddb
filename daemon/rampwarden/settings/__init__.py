"""Settings: `values` says what a value may look like, `sections` which there are, `loading` where they come from."""

from rampwarden.settings.loading import (
    CONFIG_VARIABLE,
    CREDENTIALS_VARIABLE,
    ENVIRONMENT_PREFIX,
    LoadedSettings,
    leaves,
    load_settings,
)
from rampwarden.settings.sections import AlarmSection, MqttSection, PageSection, Settings

__all__ = [
    "CONFIG_VARIABLE",
    "CREDENTIALS_VARIABLE",
    "ENVIRONMENT_PREFIX",
    "AlarmSection",
    "LoadedSettings",
    "MqttSection",
    "PageSection",
    "Settings",
    "leaves",
    "load_settings",
]
