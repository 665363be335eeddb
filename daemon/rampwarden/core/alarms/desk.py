"""The alarm desk: turns conditions that come and go into the alarm states of IEC 62682 / ISA-18.2.

Theory of operation. Each alarm has a state and one delay timer. A condition must stand for the on-delay before it is
an alarm, and be gone for the off-delay before it has returned; both run on time that is given, never on a clock. The
state moves only through `TRANSITIONS`. Five rules:

1. Acknowledging is not clearing: an acknowledged alarm whose condition stands is still there.
2. Shelving ends by itself; suppression by design belongs to the phase of the heat, never to a person.
3. Coming back from shelved, suppressed or out of service starts from normal: the condition must stand its delay anew.
   Whether it is present is remembered meanwhile, since some conditions (silence, say) are told only once.
4. What a person says to be wrong is withdrawn, and rests while its condition is found. An opinion rests until that has
   been gone once. A fact protects whoever errs: it rings again when it grows worse, and after five minutes in any case.
5. What was raised with the milder of its two actions rings again, once, when the other is needed: whoever acknowledged
   the one has not heard of the other.

Knows nothing of temperatures or schedules; which conditions there are is the catalogue's business.
"""

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.alarms.first_order import with_first_order
from rampwarden.core.alarms.one_alarm import FACT_RESTS_S, OneAlarm, excess
from rampwarden.core.alarms.standing import standing_alarm
from rampwarden.core.model import URGENCY, WAITING, AlarmState, Finding, Priority, StandingAlarm
from rampwarden.errors import AlarmTransitionError


class AlarmInput(Enum):
    """What can happen to an alarm."""

    APPEAR = "appear"
    PRESS = "become pressing"
    CLEAR = "clear"
    ACKNOWLEDGE = "be acknowledged"
    SHELVE = "be shelved"
    UNSHELVE = "be unshelved"
    SUPPRESS = "be suppressed"
    UNSUPPRESS = "be unsuppressed"
    REMOVE_FROM_SERVICE = "be removed from service"
    RETURN_TO_SERVICE = "be returned to service"
    SAY_WRONG = "be said to be wrong"
    UPHOLD = "be upheld"


RAISING = (AlarmInput.APPEAR, AlarmInput.PRESS)
"""What makes an alarm ring, with what to do about it."""

_ANNUNCIATING = (
    AlarmState.NORMAL,
    AlarmState.UNACKNOWLEDGED,
    AlarmState.ACKNOWLEDGED,
    AlarmState.RETURNED_UNACKNOWLEDGED,
)

_STANDING = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
_HIDDEN = (AlarmState.NORMAL, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE)

TRANSITIONS: Mapping[tuple[AlarmState, AlarmInput], AlarmState] = MappingProxyType(
    {
        (AlarmState.NORMAL, AlarmInput.APPEAR): AlarmState.UNACKNOWLEDGED,
        (AlarmState.UNACKNOWLEDGED, AlarmInput.PRESS): AlarmState.UNACKNOWLEDGED,
        (AlarmState.ACKNOWLEDGED, AlarmInput.PRESS): AlarmState.UNACKNOWLEDGED,
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
        (AlarmState.UNACKNOWLEDGED, AlarmInput.SAY_WRONG): AlarmState.SAID_WRONG,
        (AlarmState.ACKNOWLEDGED, AlarmInput.SAY_WRONG): AlarmState.SAID_WRONG,
        (AlarmState.SHELVED, AlarmInput.SAY_WRONG): AlarmState.SAID_WRONG,
        # What is over need not rest; that it was wrong is said all the same.
        (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmInput.SAY_WRONG): AlarmState.NORMAL,
        (AlarmState.NORMAL, AlarmInput.SAY_WRONG): AlarmState.NORMAL,
        (AlarmState.SUPPRESSED, AlarmInput.SAY_WRONG): AlarmState.SUPPRESSED,
        (AlarmState.SAID_WRONG, AlarmInput.APPEAR): AlarmState.UNACKNOWLEDGED,
        (AlarmState.SAID_WRONG, AlarmInput.CLEAR): AlarmState.NORMAL,
        (AlarmState.SAID_WRONG, AlarmInput.UPHOLD): AlarmState.UNACKNOWLEDGED,
        (AlarmState.NORMAL, AlarmInput.UPHOLD): AlarmState.NORMAL,
        (AlarmState.SUPPRESSED, AlarmInput.UPHOLD): AlarmState.SUPPRESSED,
        (AlarmState.SAID_WRONG, AlarmInput.SHELVE): AlarmState.SHELVED,
        (AlarmState.SAID_WRONG, AlarmInput.SUPPRESS): AlarmState.SUPPRESSED,
        (AlarmState.SAID_WRONG, AlarmInput.REMOVE_FROM_SERVICE): AlarmState.OUT_OF_SERVICE,
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

    `finding` is what was found of its condition when it was raised, `worst` the worst of it since, in words and as a
    figure, told where it ends and has one. `overtaken_by`: it is over only because that alarm stands, and it is not
    looked for beside it.
    """

    time_s: float
    alarm: str
    happening: AlarmInput
    state: AlarmState
    priority: Priority
    finding: Finding
    lasted_s: float
    worst: str = ""
    worst_value: float | None = None
    overtaken_by: str = ""


class AlarmDesk:
    """Every alarm of the catalogue in its state. All methods that may change a state give the changes in order.

    `raised` names the alarms whose condition stands, `stated` those of them that nobody has said to be wrong, `engaged`
    those that even an empty judgement may change, `due_s` is when the next delay ends; all are for reading only.
    """

    def __init__(self, catalogue: Mapping[str, AlarmEntry], out_of_service: Iterable[str] = ()) -> None:
        self._alarms = {name: OneAlarm(name, entry) for name, entry in catalogue.items()}
        self._suppressed: frozenset[str] = frozenset()
        self.due_s = math.inf
        # The same, whether or not a reading must confirm it: before that nothing changes by itself.
        self._ends_s = math.inf
        # Alarms standing, shelved or with their condition present: while there are none, quiet readings cost nothing.
        self.engaged: set[str] = set()
        self.raised: set[str] = set()
        self.stated: set[str] = set()
        # Where the heat stands, by name and number: it is kept with what is raised there.
        self.segment: tuple[str, int] | None = None
        for name in out_of_service:
            self._alarms[name].state = next_state(AlarmState.NORMAL, AlarmInput.REMOVE_FROM_SERVICE)

    def judge(self, time_s: float, judged: Collection[str], found: Mapping[str, Finding]) -> list[AlarmChange]:
        """Take note of a judgement: of the alarms in `judged`, exactly those in `found` have their condition present.

        Alarms not judged keep what was known of them.
        """
        if not found and not self.engaged:
            return []
        pressing: list[AlarmChange] = []
        for name in judged:
            finding = found.get(name)
            if finding is not None:
                alarm = self._alarms[name]
                self._present(alarm, time_s, finding)
                if alarm.standing and alarm.finding.milder and not finding.milder:
                    alarm.finding = finding
                    pressing.append(self._move(alarm, AlarmInput.PRESS, time_s))
            elif name in self.engaged:
                self._absent(self._alarms[name], time_s)
        return pressing + self._settle(time_s, judged)

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

    def say_wrong(self, time_s: float, name: str) -> list[AlarmChange]:
        """Withdraw an alarm on a person's word (rule 4); of one that is over, only take note of it."""
        return [self._answer(name, AlarmInput.SAY_WRONG, time_s), *self.suppress(time_s, self._suppressed)]

    def uphold(self, time_s: float, name: str) -> list[AlarmChange]:
        """Take such a word back: what was withdrawn stands again at once."""
        return [self._answer(name, AlarmInput.UPHOLD, time_s)]

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
            if alarm.name in names and (alarm.state in _ANNUNCIATING or alarm.state is AlarmState.SAID_WRONG):
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

        Whoever sets an alarm aside does not undo what it says. Out of service or said to be wrong is another matter:
        then nobody believes it.
        """
        return [name for name in names if name in self.stated or self._is_aside(self._alarms[name])]

    def standing(
        self, in_doubt: Collection[str] = (), now_found: Mapping[str, Finding] = MappingProxyType({})
    ) -> tuple[StandingAlarm, ...]:
        """Give every alarm a display should show: not normal and not out of service, most urgent first.

        What an alarm named in `in_doubt` would have one do comes from a reading in doubt. `now_found` is what is so now
        of alarms that are judged but once; whoever asks changes nothing of what will be told.
        """
        shown = [
            standing_alarm(alarm, now_found.get(alarm.name, alarm.now), in_doubt=alarm.name in in_doubt)
            for alarm in self._alarms.values()
            if alarm.state not in _HIDDEN
        ]
        return with_first_order(tuple(sorted(shown, key=lambda alarm: (URGENCY[alarm.priority], alarm.since_s))))

    def state(self, name: str) -> AlarmState:
        """Give one alarm's state."""
        return self._alarms[name].state

    def knows(self, name: str) -> bool:
        """Tell whether the catalogue has such an alarm."""
        return name in self._alarms

    @staticmethod
    def _is_aside(alarm: OneAlarm) -> bool:
        return alarm.present and alarm.state in (AlarmState.SHELVED, AlarmState.SUPPRESSED)

    def _present(self, alarm: OneAlarm, time_s: float, finding: Finding) -> None:
        was_found = alarm.present and alarm.cleared_s is None
        alarm.present = True
        alarm.cleared_s = None
        alarm.now = finding
        if alarm.standing:
            alarm.worst = max(alarm.worst, excess(finding))
            alarm.note(finding)
            if was_found:
                # It stands and is found again, as at nearly every reading: no delay begins or ends.
                return
        elif alarm.state is AlarmState.SAID_WRONG:
            self._still_found(alarm, time_s, finding)
        else:
            alarm.finding = finding
            if alarm.appeared_s is None and alarm.state in _ANNUNCIATING and alarm.name not in self._suppressed:
                alarm.appeared_s = time_s
        self._engage(alarm)

    def _still_found(self, alarm: OneAlarm, time_s: float, finding: Finding) -> None:
        """Let a fact that was said to be wrong come back when it has rested or is worse; an opinion stays withdrawn."""
        if time_s >= alarm.rests_until_s or (not alarm.entry.is_opinion and alarm.has_grown_worse(finding)):
            alarm.finding = finding
            if alarm.appeared_s is None:
                alarm.appeared_s = time_s
        else:
            alarm.appeared_s = None

    def _hold_back(self, alarm: OneAlarm, time_s: float) -> None:
        """Let an alarm that waits to be acknowledged not be raised again while its name is suppressed."""
        if alarm.name in self._suppressed:
            alarm.appeared_s = None
        elif alarm.present and alarm.appeared_s is None:
            alarm.appeared_s = time_s
        self._engage(alarm)

    def _absent(self, alarm: OneAlarm, time_s: float) -> None:
        if not alarm.present and alarm.appeared_s is None and (alarm.cleared_s is not None or not alarm.waits_to_clear):
            return
        alarm.present = False
        alarm.appeared_s = None
        if alarm.waits_to_clear and alarm.cleared_s is None:
            alarm.cleared_s = time_s
        self._engage(alarm)

    def _settle(self, time_s: float, judged: Collection[str]) -> list[AlarmChange]:
        changes: list[AlarmChange] = []
        if time_s < self._ends_s:
            return changes
        for name in sorted(self.engaged):
            alarm = self._alarms[name]
            if alarm.state is AlarmState.SHELVED and alarm.ends_s <= time_s:
                changes += self.unshelve(time_s, name)
            elif alarm.rests and alarm.ends_s <= time_s:
                alarm.appeared_s = time_s
                self._update_due()
        for name in sorted(self.engaged):
            alarm = self._alarms[name]
            if alarm.ends_s > time_s or (alarm.needs_confirming and name not in judged):
                continue
            happening = AlarmInput.CLEAR if alarm.cleared_s is not None else AlarmInput.APPEAR
            changes.append(self._move(alarm, happening, time_s))
        return changes

    def _move(self, alarm: OneAlarm, happening: AlarmInput, time_s: float) -> AlarmChange:
        before, alarm.state = alarm.state, next_state(alarm.state, happening)
        alarm.since_s = time_s
        if happening is AlarmInput.APPEAR:
            alarm.raised_s = time_s
            alarm.worst = excess(alarm.finding)
            alarm.now = alarm.worst_found = alarm.finding
            alarm.segment = self.segment
        alarm.overtaken_by = self._overtaking(alarm) if happening is AlarmInput.CLEAR else ""
        if alarm.state is AlarmState.SAID_WRONG:
            self._lay_to_rest(alarm, time_s)
        elif happening is AlarmInput.UPHOLD:
            alarm.appeared_s = alarm.appeared_s if alarm.state is before else None
        elif happening is not AlarmInput.ACKNOWLEDGE and alarm.state is not before:
            # Neither acknowledging nor a word on what is over stops a delay. Any other move ends the one that ran, and
            # only an alarm that is back at normal with its condition present begins another.
            alarm.cleared_s = None
            alarm.appeared_s = time_s if alarm.present and alarm.state is AlarmState.NORMAL else None
        _put(self.raised, alarm.name, alarm.waits_to_clear)
        _put(self.stated, alarm.name, alarm.standing)
        self._engage(alarm)
        ends = before in _STANDING and alarm.state not in _STANDING
        return AlarmChange(
            time_s,
            alarm.name,
            happening,
            alarm.state,
            alarm.entry.priority,
            alarm.finding,
            time_s - alarm.raised_s,
            alarm.worst_words if ends else "",
            alarm.worst_value if ends else None,
            alarm.overtaken_by,
        )

    def _overtaking(self, alarm: OneAlarm) -> str:
        return next((name for name in alarm.entry.overtaken_by if name in self.stated), "")

    def _answer(self, name: str, happening: AlarmInput, time_s: float) -> AlarmChange:
        alarm = self._alarms[name]
        change = self._move(alarm, happening, time_s)
        # Of one that is suppressed this tells that it is, so the end of that must be told too.
        alarm.untold = False
        return change

    def _lay_to_rest(self, alarm: OneAlarm, time_s: float) -> None:
        alarm.appeared_s = None
        alarm.rests_until_s = math.inf if alarm.entry.is_opinion else time_s + FACT_RESTS_S
        alarm.worst = max(alarm.worst, excess(alarm.finding))
        if not alarm.present and alarm.cleared_s is None:
            # Its condition went while it was shelved.
            alarm.cleared_s = time_s

    def _engage(self, alarm: OneAlarm) -> None:
        if alarm.present or alarm.waits_to_clear or alarm.state is AlarmState.SHELVED:
            self.engaged.add(alarm.name)
        else:
            self.engaged.discard(alarm.name)
        self._update_due()

    def _update_due(self) -> None:
        engaged = [self._alarms[name] for name in self.engaged]
        self._ends_s = min((alarm.ends_s for alarm in engaged), default=math.inf)
        self.due_s = min((alarm.ends_s for alarm in engaged if not alarm.needs_confirming), default=math.inf)


def _put(names: set[str], name: str, is_in: bool) -> None:
    if is_in:
        names.add(name)
    else:
        names.discard(name)
