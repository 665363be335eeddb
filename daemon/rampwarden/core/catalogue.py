"""The alarm catalogue: every alarm there is, collected from those who judge them, in one fixed order.

Nothing is said of an alarm here; that stands in its entry, beside its judge. The order is that of every list of alarms,
and of the events when several rest or come back at once: a record's replay depends on it.
"""

from collections.abc import Collection, Mapping
from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt
from rampwarden.core.diagnosis import DIAGNOSES, SENSOR_NOISY
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.instrument import SENSOR_ALARMS, SENSOR_INTERMITTENT
from rampwarden.core.limits import HEAT_ALARMS
from rampwarden.core.monitor_alarms import CLOCK_ALARMS, NOTICED_ALARMS
from rampwarden.core.physics import PHYSICS_ALARMS

ENTRIES: tuple[AlarmEntry, ...] = (
    *HEAT_ALARMS,
    *CLOCK_ALARMS,
    *SENSOR_ALARMS,
    *DIAGNOSES,
    *TOLD_ALARMS,
    *PHYSICS_ALARMS,
    *NOTICED_ALARMS,
)
"""Every entry there is."""

CATALOGUE: MappingProxyType[str, AlarmEntry] = MappingProxyType({entry.name: entry for entry in ENTRIES})
"""The entries by name."""

SUPPRESSED_IN_TRANSFER = frozenset(entry.name for entry in ENTRIES if entry.rests_in_transfer)
"""What rests while the pot is carried."""

SUPPRESSED_IN_DOUBT = frozenset(entry.name for entry in ENTRIES if entry.rests_in_doubt)
"""What rests while the reading has no meaning."""

OVERTAKES = (SENSOR_INTERMITTENT.name,)
"""What says more than what is in `OVERTAKEN`, and sends to the same wires: the other rests meanwhile."""

OVERTAKEN = frozenset((SENSOR_NOISY.name,))
"""What rests while one of `OVERTAKES` stands: one trouble of the wires is one alarm."""

MEANINGLESS = frozenset(entry.name for entry in ENTRIES if entry.doubts is ReadingDoubt.MEANINGLESS)
"""While one of these stands the reading has no meaning."""

DOUBTING = tuple(entry.name for entry in ENTRIES if entry.doubts is not ReadingDoubt.NONE)
"""What puts the reading in doubt."""

_FROM_READING = frozenset(entry.name for entry in ENTRIES if entry.action_in_doubt)
_DOUBTED_BY: Mapping[ReadingDoubt, frozenset[str]] = MappingProxyType(
    {
        ReadingDoubt.LATE: frozenset(entry.name for entry in ENTRIES if entry.wants_more_heat),
        ReadingDoubt.UNCERTAIN: _FROM_READING,
        ReadingDoubt.MEANINGLESS: _FROM_READING,
    }
)

SUPPRESSED_WHILE_STILL_HOT = frozenset(entry.name for entry in ENTRIES if entry.report.casts_doubt)
"""What rests once the schedule is done and the pot still hot: a probe that is pulled then is no emergency."""

SUPPRESSED_AFTERWARDS = frozenset(entry.name for entry in ENTRIES if not entry.matters_after_heat)
"""What rests once the schedule is done."""


def orders_in_doubt(doubting: Collection[str]) -> frozenset[str]:
    """Give the alarms that must not give the order in their entry while those in `doubting` (of `DOUBTING`) stand."""
    return frozenset().union(*(_DOUBTED_BY[CATALOGUE[name].doubts] for name in doubting))
