"""The alarm catalogue: every alarm there is, collected from those who judge them, in one fixed order.

Nothing is said of an alarm here; that stands in its entry, beside its judge. The order is that of every list of alarms,
and of the events when several rest or come back at once: a record's replay depends on it.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.diagnosis import DIAGNOSES
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.instrument import SENSOR_ALARMS
from rampwarden.core.limits import HEAT_ALARMS, TEMPERATURE_HIGH
from rampwarden.core.model import Priority
from rampwarden.core.monitor_alarms import CLOCK_ALARMS, NOTICED_ALARMS, SIGNAL_LOST
from rampwarden.core.physics import PHYSICS_ALARMS
from rampwarden.core.standing_in import STANDING_IN_ALARMS
from rampwarden.core.two_probes import TWO_PROBE_ALARMS

ENTRIES: tuple[AlarmEntry, ...] = (
    *HEAT_ALARMS,
    *CLOCK_ALARMS,
    *SENSOR_ALARMS,
    *DIAGNOSES,
    *TOLD_ALARMS,
    *PHYSICS_ALARMS,
    *TWO_PROBE_ALARMS,
    *STANDING_IN_ALARMS,
    *NOTICED_ALARMS,
)
"""Every entry there is."""

CATALOGUE: MappingProxyType[str, AlarmEntry] = MappingProxyType({entry.name: entry for entry in ENTRIES})
"""The entries by name."""

CEILINGS_OF_PROBES = (TEMPERATURE_HIGH.name,)
"""What another probe's temperature may be too much for."""

OF_PROBES = (*(entry.name for entry in SENSOR_ALARMS), SIGNAL_LOST.name, *CEILINGS_OF_PROBES)
"""The alarms that any other probe has, too, each under its own name."""

_OF_PROBE = ":"

SUPPRESSED_IN_TRANSFER = frozenset(entry.name for entry in ENTRIES if entry.rests_in_transfer)
"""What rests while the pot is carried."""

SUPPRESSED_IN_DOUBT = frozenset(entry.name for entry in ENTRIES if entry.rests_in_doubt)
"""What rests while the reading has no meaning."""

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


def probe_alarm(probe: str, alarm: str) -> str:
    """Give the name of an alarm of another probe: the probe's and the catalogue's.

    >>> probe_alarm("chamber", "sensor-open")
    'chamber:sensor-open'
    """
    return f"{probe}{_OF_PROBE}{alarm}"


def alarm_names(probes: Iterable[str]) -> tuple[str, ...]:
    """Give the name of every alarm there is in a watch with these other probes."""
    return (*CATALOGUE, *(probe_alarm(probe, name) for probe in probes for name in OF_PROBES))


def is_alarm(alarm: str) -> bool:
    """Tell whether there may be an alarm of that name, of some probe."""
    probe, of_probe, name = alarm.rpartition(_OF_PROBE)
    return bool(probe) and name in OF_PROBES if of_probe else name in CATALOGUE


def entry_of(alarm: str) -> AlarmEntry:
    """Give the entry of any alarm, of another probe's too; raises `KeyError` where there is none."""
    if not is_alarm(alarm):
        raise KeyError(alarm)
    probe, _, name = alarm.rpartition(_OF_PROBE)
    return probe_entry(probe, CATALOGUE[name]) if probe else CATALOGUE[name]


def probe_entry(probe: str, entry: AlarmEntry, *, is_carried: bool = False) -> AlarmEntry:
    """Give the entry of another probe's alarm, made of the followed one's.

    It says nothing against the followed reading, so nothing rests because of it and no report judges the pot by it. A
    fault of it is never as urgent as one that leaves the pot unseen; its ceiling is. `is_carried`: it hangs in the pot,
    and so in the air while that is carried.
    """
    is_fault = entry.name not in CEILINGS_OF_PROBES
    return replace(
        entry,
        name=probe_alarm(probe, entry.name),
        priority=Priority.MEDIUM if is_fault and entry.priority is Priority.HIGH else entry.priority,
        why=f"the {probe} probe says nothing meanwhile" if is_fault else entry.why,
        action=f"check the {probe} probe and its wiring" if is_fault else entry.action,
        time_to_act="this heat" if is_fault else entry.time_to_act,
        rests_in_transfer=is_carried and entry.rests_in_transfer,
        rests_in_doubt=False,
        doubts=ReadingDoubt.NONE,
        action_in_doubt="",
        report=ReportMeaning.NO_VERDICT,
    )
