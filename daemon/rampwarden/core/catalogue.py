"""The alarm catalogue: every alarm there is, collected from those who judge them, in one fixed order.

Nothing is said of an alarm here; that stands in its entry, beside its judge. The order is that of every list of alarms,
and of the events when several rest or come back at once: a record's replay depends on it.
"""

from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.diagnosis import DIAGNOSES
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.instrument import SENSOR_ALARMS
from rampwarden.core.limits import HEAT_ALARMS
from rampwarden.core.monitor_alarms import CLOCK_ALARMS, NOTICED_ALARMS

ENTRIES: tuple[AlarmEntry, ...] = (
    *HEAT_ALARMS,
    *CLOCK_ALARMS,
    *SENSOR_ALARMS,
    *DIAGNOSES,
    *TOLD_ALARMS,
    *NOTICED_ALARMS,
)
"""Every entry there is."""

CATALOGUE: MappingProxyType[str, AlarmEntry] = MappingProxyType({entry.name: entry for entry in ENTRIES})
"""The entries by name."""

SUPPRESSED_IN_TRANSFER = frozenset(entry.name for entry in ENTRIES if entry.rests_in_transfer)
"""What rests while the pot is carried."""

SUPPRESSED_IN_DOUBT = frozenset(entry.name for entry in ENTRIES if entry.rests_in_doubt)
"""What rests while the sensor is in doubt."""

SUPPRESSED_WHILE_STILL_HOT = frozenset(entry.name for entry in ENTRIES if entry.report.casts_doubt)
"""What rests once the schedule is done and the pot still hot: a probe that is pulled then is no emergency."""

SUPPRESSED_AFTERWARDS = frozenset(entry.name for entry in ENTRIES if not entry.matters_after_heat)
"""What rests once the schedule is done."""
