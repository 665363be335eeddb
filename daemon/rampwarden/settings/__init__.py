"""Settings: `values` says what a value may look like, `sections` which there are, `loading` where they come from.

`standing_in` is for a heat under way whose settings cannot be read.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.settings.key_names import key_code
    from rampwarden.settings.loading import (
        CONFIG_VARIABLE,
        CREDENTIALS_VARIABLE,
        ENVIRONMENT_PREFIX,
        LoadedSettings,
        leaves,
        load_settings,
    )
    from rampwarden.settings.probes import OF_ONE_PROBE, THE_BOARD, sound_probes
    from rampwarden.settings.sections import (
        AlarmSection,
        BoardSection,
        MqttSection,
        PageSection,
        ProbeSection,
        Settings,
    )
    from rampwarden.settings.standing_in import legible_settings, looks_cut_short, recorded_settings
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "CONFIG_VARIABLE",
    "CREDENTIALS_VARIABLE",
    "ENVIRONMENT_PREFIX",
    "OF_ONE_PROBE",
    "THE_BOARD",
    "AlarmSection",
    "BoardSection",
    "LoadedSettings",
    "MqttSection",
    "PageSection",
    "ProbeSection",
    "Settings",
    "key_code",
    "leaves",
    "legible_settings",
    "load_settings",
    "looks_cut_short",
    "recorded_settings",
    "sound_probes",
]
