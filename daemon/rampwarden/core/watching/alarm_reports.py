"""Alarms on their way from a judge to an event: brought before the desk, made to rest, and told.

Two things make alarms rest: the heat, which makes some pointless for a while (a transfer, the time after the
schedule), and a reading in doubt, because of which nobody is told to do anything. What an alarm says is not known here.
"""

from collections.abc import Collection, Mapping

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.alarms import AlarmChange, AlarmDesk
from rampwarden.core.catalogue import (
    CATALOGUE,
    DOUBTING,
    MEANINGLESS,
    OVERTAKEN,
    OVERTAKES,
    SUPPRESSED_IN_DOUBT,
    orders_in_doubt,
)
from rampwarden.core.model import AlarmState, Finding, Notice, StandingAlarm
from rampwarden.core.watching.event_list import EventList

_END_WHEN_SEEN = frozenset(entry.name for entry in CATALOGUE.values() if entry.ends_when_seen)


class AlarmReports:
    """Every alarm of one heat; `raised` names those whose condition stands, for reading only."""

    def __init__(self, alarms: Mapping[str, AlarmEntry], out_of_service: tuple[str, ...], events: EventList) -> None:
        # A record made before an alarm was thought of carries a catalogue without it.
        self._catalogue = {**CATALOGUE, **alarms}
        self._desk = AlarmDesk(self._catalogue, out_of_service, lambda: events.place, self._orders_in_doubt)
        self._events = events
        self._of_probes = tuple((name, name.rpartition(":")[2]) for name in alarms if name not in CATALOGUE)
        self._resting: frozenset[str] = frozenset()
        self._in_doubt = self._overtaken = False
        self.stood_in = False
        """Whether another probe stands in for the one that is in doubt: then orders do not come from that reading."""
        self.raised = self._desk.raised

    @property
    def due_s(self) -> float:
        """When the next delay ends that the clock alone may end, s."""
        return self._desk.due_s

    @property
    def stated(self) -> Collection[str]:
        """Which alarms are raised and not said to be wrong."""
        return self._desk.stated

    @property
    def engaged(self) -> bool:
        """Whether even an empty judgement may change something."""
        return bool(self._desk.engaged)

    @property
    def is_meaningless(self) -> bool:
        """Whether an alarm says already that the reading has no meaning, though a person may have put it aside."""
        return self._in_doubt or not MEANINGLESS.isdisjoint(self.raised)

    def knows(self, name: str) -> bool:
        """Tell whether there is such an alarm."""
        return self._desk.knows(name)

    def standing(self, now_found: Mapping[str, Finding]) -> tuple[StandingAlarm, ...]:
        """Give every alarm a display should show, most urgent first.

        `now_found`: what is so now of alarms that are judged but once, for their figures to be the present ones.
        """
        return self._desk.standing(self._orders_in_doubt(), now_found)

    def judge(self, judged: tuple[str, ...], found: Mapping[str, Finding]) -> None:
        """Take note that of the alarms in `judged` exactly those in `found` have their condition present."""
        # Nothing found and nothing engaged is the case of nearly every reading: it must cost nothing.
        if found or self._desk.engaged:
            changes = self._desk.judge(self._events.now_s, judged, found)
            if changes:
                self._report(changes)

    def judge_passing(self, name: str, notice: Notice, otherwise: str) -> None:
        """Raise what is over by the time it is known: it waits for somebody who acknowledges it."""
        self.judge((name,), {name: told(notice, otherwise)})
        self.judge((name,), {})

    def tick(self, now_s: float) -> None:
        """Let the delays that end by `now_s` (s) take effect."""
        self._report(self._desk.tick(now_s))

    def rest(self, resting: frozenset[str], *, schedule_done: bool = False) -> None:
        """Let alarms rest that the heat makes pointless now, and those that another one does: in doubt or overtaken.

        Other probes' alarms rest with the followed one's once `schedule_done`; before that only those of a probe that
        is carried with the pot.
        """
        of_probes = [
            name
            for name, own in self._of_probes
            if own in resting and (schedule_done or self._catalogue[name].rests_in_transfer)
        ]
        self._rest(resting.union(of_probes) if of_probes else resting)

    def _rest(self, resting: frozenset[str]) -> None:
        self._resting = resting
        if self._in_doubt:
            resting |= SUPPRESSED_IN_DOUBT
        if self._overtaken:
            resting |= OVERTAKEN
        self._report(self._desk.suppress(self._events.now_s, resting))

    def rest_in_doubt(self) -> None:
        """See whether the reading has a meaning now, and let rest what gives orders because of it if it has none.

        What is overtaken by an alarm that says more of the same wires rests likewise.
        """
        if self._desk.engaged or self._in_doubt or self._overtaken:
            in_doubt = not self.stood_in and bool(self._desk.present(MEANINGLESS))
            overtaken = bool(self._desk.present(OVERTAKES))
            if (in_doubt, overtaken) != (self._in_doubt, self._overtaken):
                self._in_doubt, self._overtaken = in_doubt, overtaken
                self._rest(self._resting)

    def acknowledge(self, name: str) -> None:
        """Acknowledge an alarm, or with no name every one that waits for it."""
        self._report(self._desk.acknowledge(self._events.now_s, name))
        for each in sorted(self._desk.stated & _END_WHEN_SEEN):
            if self._desk.state(each) is AlarmState.ACKNOWLEDGED:
                self.judge((each,), {})

    def shelve(self, name: str, minutes: float) -> None:
        """Shelve an alarm for so many minutes."""
        now_s = self._events.now_s
        self._report(self._desk.shelve(now_s, name, now_s + 60.0 * minutes))

    def unshelve(self, name: str) -> None:
        """Take a shelved alarm back before its time."""
        self._report(self._desk.unshelve(self._events.now_s, name))

    def say_wrong(self, name: str) -> None:
        """Withdraw an alarm on a person's word."""
        self._report(self._desk.say_wrong(self._events.now_s, name))

    def uphold(self, name: str) -> None:
        """Let an alarm stand after all."""
        self._report(self._desk.uphold(self._events.now_s, name))

    def _orders_in_doubt(self) -> frozenset[str]:
        """Give the alarms whose order would come from a reading that is in doubt now."""
        if self.stood_in or not self._desk.engaged:
            return frozenset()
        return orders_in_doubt(self._desk.present(DOUBTING))

    def _report(self, changes: list[AlarmChange]) -> None:
        if not changes:
            return
        doubted = self._orders_in_doubt()
        yields_to = {each.alarm: each.yields_to for each in self._desk.standing(doubted)}
        for change in changes:
            name = change.alarm
            in_doubt = name in doubted or (self._overtaken and name in OVERTAKEN)
            in_doubt = in_doubt and name not in self._resting
            entry = self._catalogue[name]
            self._events.tell_alarm(change, entry, in_doubt=in_doubt, yields_to=yields_to.get(name, ""))


def told(notice: Notice, otherwise: str) -> Finding:
    """Give a notice as a finding, in its own words if it has any."""
    return Finding(None, None, None, notice.text or otherwise)
