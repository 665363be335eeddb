"""One first heat in a closed loop: what the watch says changes what the person does, and so what the pot meets."""

from dataclasses import dataclass, field

from benchmarks.help.drawn import LONGEST_S, Drawn
from benchmarks.help.ears import AGAIN_IN_OVEN_S, AGAIN_S, Ears
from benchmarks.help.errands import Matters
from benchmarks.help.outcome import Outcome, PotTruth
from benchmarks.help.person import CARRY, DRY, OVEN, SOAK, Person
from benchmarks.help.world import World
from rampwarden.core.model import Command, CommandName, Event, EventName, Quality, Reading, StandingAlarm
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.physics import Bottle, GasSupply

_EVERY_S, _OVEN_EVERY_S = 2, 5
"""s between two readings. A pot in an oven is slow enough for fewer."""
_SENSOR_ALARMS = ("sensor-", "signal-lost", "probe-unseated")


@dataclass
class Run:
    """A heat that is over: what befell the pot, and what was heard (s, alarm, order, whether it was so)."""

    outcome: Outcome
    heard: list[tuple[int, str, str, bool]] = field(default_factory=list)


def by_hand(drawn: Drawn) -> Run:
    """Run a heat with spot thermometer and clock."""
    world, truth = World(drawn), PotTruth(drawn.schedule)
    person = Person(drawn, world)
    person.lifted = truth.carried
    for second in range(LONGEST_S):
        person.live(second)
        _step(world, truth, person)
        if person.done:
            break
    return Run(truth.finish(done=person.done))


def _step(world: World, truth: PotTruth, person: Person) -> None:
    world.step()
    truth.follow(float(world.second), world.pot_c, person.index, starved=world.bottle.starved)


class _Watched:
    """The same heat with the watch beside it."""

    def __init__(self, drawn: Drawn) -> None:
        self._world, self._truth = World(drawn), PotTruth(drawn.schedule)
        self._monitor = Monitor(
            drawn.schedule, MonitorParameters(place="pot", gas=_gas(drawn, self._world.usual_kw), signal_lost_s=15.0)
        )
        self._person = Person(drawn, self._world, self._shown_c, self._mark)
        self._person.lifted = self._truth.carried
        self._ears = Ears(drawn.dice(5))
        self._matters = Matters(self._world, self._truth)
        self._alarms: tuple[StandingAlarm, ...] = ()
        self._done_due_s: int | None = None

    def run(self) -> Run:
        world, truth, person, ears = self._world, self._truth, self._person, self._ears
        for second in range(LONGEST_S):
            every_s = _EVERY_S if person.index > DRY else _OVEN_EVERY_S
            if second % every_s == 0:
                self._watch(second, every_s)
            if person.hears(second) and not person.busy:
                self._act(second)
            person.live(second)
            _step(world, truth, person)
            self._matters.follow()
            if person.done:
                break
        truth.outcome.false_errands = float(ears.false_errands)
        return Run(truth.finish(done=person.done), ears.heard)

    def _watch(self, second: int, every_s: int) -> None:
        monitor, temp_c = self._monitor, self._world.read(float(every_s))
        if temp_c is None:
            events = monitor.advance(float(second))
        else:
            events = monitor.feed(Reading(float(second), temp_c=temp_c))
        self._heed(second, events)
        if events or (second % 20 == 0 and self._alarms):
            self._alarms = monitor.status().alarms

    def _heed(self, second: int, events: list[Event]) -> None:
        for event in events:
            number = event.segment_number or 0
            if event.event is EventName.SOAK_COMPLETE and number - 1 == self._person.index in (DRY, SOAK):
                self._done_due_s = second + 30

    def _act(self, second: int) -> None:
        """Hear, go, and do."""
        ears, person = self._ears, self._person
        if self._done_due_s is not None and second >= self._done_due_s:
            self._done_due_s = None
            person.attend(second)
            person.hear_done()
        if not self._alarms:
            return
        ears.again_s = AGAIN_IN_OVEN_S if person.index in (OVEN, DRY) else AGAIN_S
        if ears.listen(second, self._alarms) is not None:
            person.attend(second)
        due = ears.due(second, self._alarms)
        if due is not None:
            alarm, order = due
            self._heed(second, self._monitor.feed(Command(float(second), CommandName.ACKNOWLEDGE)))
            self._alarms = self._monitor.status().alarms
            if person.index != CARRY and not person.has_done(order):
                ears.learn(second, alarm, order, was_so=self._matters.is_so(order, person.index))
                person.obey(order)

    def _shown_c(self) -> float | None:
        """Give what the display says, °C; nothing while it says itself that the probe is not to be believed."""
        measurement = self._monitor.measurement
        if any(each.alarm.startswith(_SENSOR_ALARMS) and each.ended_s is None for each in self._alarms):
            return None
        if measurement is None or measurement.quality is not Quality.GOOD:
            return None
        return measurement.temp_c

    def _mark(self, text: str) -> None:
        second = self._world.second
        self._heed(second, self._monitor.feed(Command(float(second), CommandName.MARK, text=text)))


def watched(drawn: Drawn) -> Run:
    """Run the same heat with the watch beside it."""
    return _Watched(drawn).run()


def _gas(drawn: Drawn, usual_kw: float) -> GasSupply | None:
    """Give what a person has set of bottle and burner: weighed to 200 g, the burner's usual power wrong by a share."""
    gas = drawn.gas
    if not gas.told:
        return None
    content_kg = round(gas.content_kg / 0.2) * 0.2
    bottle = Bottle(gas.full_kg, content_kg, 12.0, 0.3)
    return GasSupply(bottle, gas.ambient_c, gas.ambient_c, 1.0, {"*": usual_kw * gas.told_wrong}, weighed=True)
