"""The alarm desk: turns conditions that come and go into the alarm states of IEC 62682 / ISA-18.2.

Theory of operation. Each alarm has a state and one delay timer. A condition must stand for the on-delay before it is
an alarm, and be gone for the off-delay before it has returned; both run on time that is given, never on a clock. The
state moves only through `TRANSITIONS`. Three rules:

1. Acknowledging is not clearing: an acknowledged alarm whose condition stands is still there.
2. Shelving ends by itself; suppression by design belongs to the phase of the heat, never to a person.
3. Coming back from shelved, suppressed or out of service starts from normal: the condition must stand its delay anew.
   Whether it is present is remembered meanwhile, since some conditions (silence, say) are told only once.

Knows nothing of temperatures or schedules; which conditions there are is the catalogue's business.
"""

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.model import URGENCY, WAITING, AlarmState, Finding, Priority, StandingAlarm
from rampwarden.errors import AlarmTransitionError


class AlarmInput(Enum):
    """What can happen to an alarm."""

    APPEAR = "appear"
    CLEAR = "clear"
    ACKNOWLEDGE = "be acknowledged"
    SHELVE = "be shelved"
    UNSHELVE = "be unshelved"
    SUPPRESS = "be suppressed"
    UNSUPPRESS = "be unsuppressed"
    REMOVE_FROM_SERVICE = "be removed from service"
    RETURN_TO_SERVICE = "be returned to service"


_ANNUNCIATING = (
    AlarmState.NORMAL,
    AlarmState.UNACKNOWLEDGED,
    AlarmState.ACKNOWLEDGED,
    AlarmState.RETURNED_UNACKNOWLEDGED,
)

TRANSITIONS: Mapping[tuple[AlarmState, AlarmInput], AlarmState] = MappingProxyType(
    {
        (AlarmState.NORMAL, AlarmInput.APPEAR): AlarmState.UNACKNOWLEDGED,
        (AlarmState.UNACKNOWLEDGED, AlarmInput.ACKNOWLEDGE): AlarmState.ACKNOWLEDGED,
        (AlarmState.UNACKNOWLEDGED, AlarmInput.CLEAR): AlarmState.RETURNED_UNACKNOWLEDGED,
        (AlarmState.ACKNOWLEDGED, AlarmInput.CLEAR): AlarmState.NORMAL,
        (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmInput.APPEAR): AlarmState.UNACKNOWLEDGED,
        (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmInput.ACKNOWLEDGE): AlarmState.NORMAL,
        (AlarmState.SHELVED, AlarmInput.UNSHELVE): AlarmState.NORMAL,
        (AlarmState.SUPPRESSED, AlarmInput.UNSUPPRESS): AlarmState.NORMAL,
        (AlarmState.OUT_OF_SERVICE, AlarmInput.RETURN_TO_SERVICE): AlarmState.NORMAL,
        (AlarmState.SHELVED, AlarmInput.REMOVE_FROM_SERVICE): AlarmState.OUT_OF_SERVICE,
        (AlarmState.SUPPRESSED, AlarmInput.REMOVE_FROM_SERVICE): AlarmState.OUT_OF_SERVICE,
        (AlarmState.SUPPRESSED, AlarmInput.SHELVE): AlarmState.SHELVED,
        **{(state, AlarmInput.SHELVE): AlarmState.SHELVED for state in _ANNUNCIATING},
        **{(state, AlarmInput.SUPPRESS): AlarmState.SUPPRESSED for state in _ANNUNCIATING},
        **{(state, AlarmInput.REMOVE_FROM_SERVICE): AlarmState.OUT_OF_SERVICE for state in _ANNUNCIATING},
    }
)


def next_state(state: AlarmState, happening: AlarmInput) -> AlarmState:
    """Give the state that follows; raises `AlarmTransitionError` where the table has none."""
    try:
        return TRANSITIONS[state, happening]
    except KeyError:
        raise AlarmTransitionError(f"an alarm that is {state} cannot {happening.value}") from None


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """A happening brought an alarm to `state` at `time_s`, `lasted_s` seconds after it was last raised.

    `finding` is what was found of its condition then.
    """

    time_s: float
    alarm: str
    happening: AlarmInput
    state: AlarmState
    priority: Priority
    finding: Finding
    lasted_s: float


class _Alarm:
    """One alarm's state, its delay timer and what was last found."""

    __slots__ = (
        "appeared_s",
        "cleared_s",
        "entry",
        "finding",
        "name",
        "present",
        "raised_s",
        "shelved_until_s",
        "since_s",
        "state",
        "untold",
    )

    def __init__(self, name: str, entry: AlarmEntry) -> None:
        self.name = name
        self.entry = entry
        self.state = AlarmState.NORMAL
        self.since_s = 0.0
        self.raised_s = 0.0
        self.finding = Finding(None, None, None, "")
        self.present = False
        # A normal alarm is suppressed without a word, so without a word it comes back.
        self.untold = False
        # At most one of these runs: the on-delay from `appeared_s`, the off-delay from `cleared_s`.
        self.appeared_s: float | None = None
        self.cleared_s: float | None = None
        self.shelved_until_s = math.inf

    @property
    def standing(self) -> bool:
        """The condition counts as present: the alarm waits for it to clear, not to appear."""
        return self.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)

    @property
    def needs_confirming(self) -> bool:
        """What is due here waits for the next judgement; the end of shelving does not."""
        return self.entry.waits_for_reading and self.state is not AlarmState.SHELVED

    @property
    def ends_s(self) -> float:
        """When the running delay, or the shelving, ends."""
        if self.state is AlarmState.SHELVED:
            return self.shelved_until_s
        if self.appeared_s is not None:
            return self.appeared_s + self.entry.on_delay_s
        if self.cleared_s is not None:
            return self.cleared_s + self.entry.off_delay_s
        return math.inf


class AlarmDesk:
    """Every alarm of the catalogue in its state. All methods that may change a state give the changes in order.

    `raised` names the alarms whose condition stands, `engaged` those that even an empty judgement may change, `due_s`
    is when the next delay ends; all are for reading only.
    """

    def __init__(self, catalogue: Mapping[str, AlarmEntry], out_of_service: Iterable[str] = ()) -> None:
        self._alarms = {name: _Alarm(name, entry) for name, entry in catalogue.items()}
        self._suppressed: frozenset[str] = frozenset()
        self.due_s = math.inf
        # Alarms standing, shelved or with their condition present: while there are none, quiet readings cost nothing.
        self.engaged: set[str] = set()
        self.raised: set[str] = set()
        for name in out_of_service:
            self._alarms[name].state = next_state(AlarmState.NORMAL, AlarmInput.REMOVE_FROM_SERVICE)

    def judge(self, time_s: float, judged: Collection[str], found: Mapping[str, Finding]) -> list[AlarmChange]:
        """Take note of a judgement: of the alarms in `judged`, exactly those in `found` have their condition present.

        Alarms not judged keep what was known of them.
        """
        if not found and not self.engaged:
            return []
        for name in judged:
            finding = found.get(name)
            if finding is not None:
                self._present(self._alarms[name], time_s, finding)
            elif name in self.engaged:
                self._absent(self._alarms[name], time_s)
        return self._settle(time_s, judged)

    def tick(self, time_s: float) -> list[AlarmChange]:
        """Let the delays that end by `time_s` take effect, where the clock alone may end them."""
        return self._settle(time_s, ()) if time_s >= self.due_s else []

    def acknowledge(self, time_s: float, name: str = "") -> list[AlarmChange]:
        """Acknowledge one alarm, or with no name every alarm that waits for it."""
        names = [name] if name else [alarm.name for alarm in self._alarms.values() if alarm.state in WAITING]
        changes = [self._move(self._alarms[each], AlarmInput.ACKNOWLEDGE, time_s) for each in names]
        return [*changes, *self.suppress(time_s, self._suppressed)]

    def shelve(self, time_s: float, name: str, until_s: float) -> list[AlarmChange]:
        """Shelve an alarm until `until_s`; it comes back by itself."""
        alarm = self._alarms[name]
        change = self._move(alarm, AlarmInput.SHELVE, time_s)
        alarm.shelved_until_s = until_s
        self._update_due()
        return [change]

    def unshelve(self, time_s: float, name: str) -> list[AlarmChange]:
        """Take a shelved alarm back before its time."""
        change = self._move(self._alarms[name], AlarmInput.UNSHELVE, time_s)
        return [change, *self.suppress(time_s, self._suppressed)]

    def suppress(self, time_s: float, names: frozenset[str]) -> list[AlarmChange]:
        """Suppress by design exactly `names` from now on; only alarms that were not normal are worth a change.

        One that has returned but was never acknowledged waits for that first: nobody has heard of it yet.
        """
        self._suppressed = names
        changes = []
        for alarm in self._alarms.values():
            if alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED:
                self._hold_back(alarm, time_s)
                continue
            if alarm.name in names and alarm.state in _ANNUNCIATING:
                alarm.untold = alarm.state is AlarmState.NORMAL
                change = self._move(alarm, AlarmInput.SUPPRESS, time_s)
            elif alarm.name not in names and alarm.state is AlarmState.SUPPRESSED:
                change = self._move(alarm, AlarmInput.UNSUPPRESS, time_s)
            else:
                continue
            if not alarm.untold:
                changes.append(change)
        return changes

    def present(self, names: Iterable[str]) -> list[str]:
        """Give those of `names` whose condition is present, though they be shelved or suppressed.

        Whoever sets an alarm aside does not undo what it says. Out of service is another matter: then nobody believes
        it.
        """
        return [name for name in names if name in self.raised or self._is_aside(self._alarms[name])]

    def standing(self, in_doubt: Collection[str] = ()) -> tuple[StandingAlarm, ...]:
        """Give every alarm a display should show: not normal and not out of service, most urgent first.

        What an alarm named in `in_doubt` would have one do comes from a reading in doubt.
        """
        hidden = (AlarmState.NORMAL, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE)
        shown = [
            StandingAlarm(
                alarm.name,
                alarm.state,
                alarm.entry.priority,
                alarm.finding.what,
                alarm.since_s,
                alarm.entry.order(in_doubt=alarm.name in in_doubt) if alarm.standing else "",
            )
            for alarm in self._alarms.values()
            if alarm.state not in hidden
        ]
        return tuple(sorted(shown, key=lambda alarm: (URGENCY[alarm.priority], alarm.since_s)))

    def state(self, name: str) -> AlarmState:
        """Give one alarm's state."""
        return self._alarms[name].state

    def knows(self, name: str) -> bool:
        """Tell whether the catalogue has such an alarm."""
        return name in self._alarms

    @staticmethod
    def _is_aside(alarm: _Alarm) -> bool:
        return alarm.present and alarm.state in (AlarmState.SHELVED, AlarmState.SUPPRESSED)

    def _present(self, alarm: _Alarm, time_s: float, finding: Finding) -> None:
        alarm.present = True
        alarm.cleared_s = None
        if not alarm.standing:
            alarm.finding = finding
            if alarm.appeared_s is None and alarm.state in _ANNUNCIATING and alarm.name not in self._suppressed:
                alarm.appeared_s = time_s
        self._engage(alarm)

    def _hold_back(self, alarm: _Alarm, time_s: float) -> None:
        """Let an alarm that waits to be acknowledged not be raised again while its name is suppressed."""
        if alarm.name in self._suppressed:
            alarm.appeared_s = None
        elif alarm.present and alarm.appeared_s is None:
            alarm.appeared_s = time_s
        self._engage(alarm)

    def _absent(self, alarm: _Alarm, time_s: float) -> None:
        alarm.present = False
        alarm.appeared_s = None
        if alarm.standing and alarm.cleared_s is None:
            alarm.cleared_s = time_s
        self._engage(alarm)

    def _settle(self, time_s: float, judged: Collection[str]) -> list[AlarmChange]:
        changes: list[AlarmChange] = []
        for name in sorted(self.engaged):
            alarm = self._alarms[name]
            if alarm.state is AlarmState.SHELVED and alarm.ends_s <= time_s:
                changes += self.unshelve(time_s, name)
        for name in sorted(self.engaged):
            alarm = self._alarms[name]
            if alarm.ends_s > time_s or (alarm.needs_confirming and name not in judged):
                continue
            happening = AlarmInput.CLEAR if alarm.standing else AlarmInput.APPEAR
            changes.append(self._move(alarm, happening, time_s))
        return changes

    def _move(self, alarm: _Alarm, happening: AlarmInput, time_s: float) -> AlarmChange:
        alarm.state = next_state(alarm.state, happening)
        alarm.since_s = time_s
        if happening is AlarmInput.APPEAR:
            alarm.raised_s = time_s
        if happening is not AlarmInput.ACKNOWLEDGE:
            # Acknowledging stops no delay. Any other move ends the one that ran, and only an alarm that is back at
            # normal with its condition present begins another.
            alarm.cleared_s = None
            alarm.appeared_s = time_s if alarm.present and alarm.state is AlarmState.NORMAL else None
        if alarm.standing:
            self.raised.add(alarm.name)
        else:
            self.raised.discard(alarm.name)
        self._engage(alarm)
        lasted_s = time_s - alarm.raised_s
        return AlarmChange(time_s, alarm.name, happening, alarm.state, alarm.entry.priority, alarm.finding, lasted_s)

    def _engage(self, alarm: _Alarm) -> None:
        if alarm.present or alarm.standing or alarm.state is AlarmState.SHELVED:
            self.engaged.add(alarm.name)
        else:
            self.engaged.discard(alarm.name)
        self._update_due()

    def _update_due(self) -> None:
        due = (alarm.ends_s for name in self.engaged if not (alarm := self._alarms[name]).needs_confirming)
        self.due_s = min(due, default=math.inf)
