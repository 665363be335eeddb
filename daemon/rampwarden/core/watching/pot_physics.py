"""The pot's own physics in a running heat: what of a reading is the pot's, and what the equations make of it.

Composes `physics` with the heat: in a transfer, after it and with a probe out of its place a reading says nothing of
the wall; gas burns in the segments whose burner is known, while the flame is not known to be out. Judges nothing
itself.
"""

from collections.abc import Callable

from msgspec.structs import replace

from rampwarden.core.explanation import Cause
from rampwarden.core.heat import PULLED_WITHIN_S, HeatTracker, PulledProbe
from rampwarden.core.model import EventName, Finding, GasFigures, GasState, WallPeak, WallState, WaterState, mark_name
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.physics import (
    BOTTLE_SHORT,
    WALL_COOLING,
    BottleWatch,
    DryHeat,
    WallWatch,
    WaterWatch,
    balance_words,
    burns_kw,
)
from rampwarden.core.pot import Place
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.two_probes import Pair
from rampwarden.core.watching.alarm_reports import AlarmReports
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.explaining import Explaining
from rampwarden.core.watching.gas_ahead import burning_ahead
from rampwarden.core.watching.pot_water import PotWater
from rampwarden.core.watching.schedule_passage import SchedulePassage
from rampwarden.core.weight_marks import BOTTLE, maybe_weight_kg

_WALL_ALARMS = (WALL_COOLING.name,)
_GAS_ALARMS = (BOTTLE_SHORT.name,)
_BOTTLE = "bottle"
# Put back on its pot, a probe takes so long to read it again, s. Common practice, no source.
_ARRIVES_S = 180.0


class PotPhysics:
    """Follows what can be followed: the wall, where class, thickness and the probe's place are known, the gas,
    and the water of a registered pot that has the probe on it.
    """

    def __init__(
        self,
        parameters: MonitorParameters,
        events: EventList,
        tracker: HeatTracker,
        passage: SchedulePassage,
        alarms: AlarmReports,
        explaining: Explaining,
        shown_dry: Callable[[], None],
    ) -> None:
        self._events, self._tracker, self._passage = events, tracker, passage
        self._alarms, self._explaining = alarms, explaining
        self._probe = PulledProbe()
        self._temp_c = 0.0
        self._wall: WallWatch | None = None
        if parameters.wall is not None and parameters.place in (Place.POT.value, Place.CHAMBER.value):
            self._wall = WallWatch(
                parameters.wall,
                on_pot=parameters.place == Place.POT.value,
                longest_gap_s=4.0 * parameters.longest_credited_s,
            )
        self._water: PotWater | None = None
        if parameters.standing is not None and parameters.place == Place.POT.value:
            self._water = PotWater(events, asks=not parameters.standing.dry)
        self._bottle_probe = next((probe.name for probe in parameters.probes if probe.place == _BOTTLE), "")
        self._shown_dry = shown_dry
        self._balance: WaterWatch | None = None
        self._is_dry_before = parameters.standing is not None and parameters.standing.dry
        if parameters.pot_j_per_k is not None:
            self._balance = WaterWatch(parameters.pot_j_per_k, parameters.dry_heat)
        self._gas: BottleWatch | None = None
        self._dry_told = False
        self._powers_kw: tuple[float, ...] = ()
        if parameters.gas is not None:
            self._gas = BottleWatch(parameters.gas)
            schedule, powers = tracker.schedule, parameters.gas.burner_kw
            self._powers_kw = tuple(burns_kw(schedule, index, powers) for index in range(len(schedule.segments)))

    def feed(self, time_s: float, temp_c: float) -> None:
        """Take a believed temperature (°C) at `time_s` (s, rising)."""
        self._temp_c = temp_c
        wall, segment = self._wall, self._tracker.segment
        if self._water is not None and segment is not None:
            self._water.feed(time_s, temp_c, segment)
        if wall is None or segment is None:
            return
        wall.enter(self._tracker.index + 1)
        if segment.kind is SegmentKind.TRANSFER:
            wall.rest(time_s + _ARRIVES_S)
        elif self._probe.feed(time_s, temp_c):
            wall.doubt(time_s - PULLED_WITHIN_S)
            wall.rest(time_s + _ARRIVES_S)
            self._alarms.judge(_WALL_ALARMS, {})
        elif wall.feed(time_s, temp_c):
            # While it heats the difference is shown and nothing rings: brisk heats would ring throughout.
            cools = segment.kind is SegmentKind.COOL or self._passage.done
            found = wall.finding(raised=WALL_COOLING.name in self._alarms.raised) if cools else None
            self._alarms.judge(_WALL_ALARMS, {} if found is None else {WALL_COOLING.name: found})

    def burn(self, time_s: float) -> None:
        """Let the gas burn up to a reading of any worth (s, rising): a bottle is drawn on whatever the probe says."""
        gas, tracker = self._gas, self._tracker
        if gas is None or tracker.segment is None:
            return
        statement = self._explaining.standing
        is_lit = not self._passage.done and (statement is None or statement.cause != Cause.FLAME_OUT.value)
        if not gas.feed(time_s, self._powers_kw[tracker.index] if is_lit else 0.0):
            return
        ahead = []
        if not self._passage.done:
            slope = 0.0 if self._passage.ramp is None else self._passage.ramp.c_per_s
            ahead = burning_ahead(
                tracker.schedule, self._powers_kw, tracker.index, self._temp_c, slope, tracker.soaked_s
            )
        gas.look_ahead(time_s, ahead)
        found = gas.finding(raised=BOTTLE_SHORT.name in self._alarms.raised)
        self._alarms.judge(_GAS_ALARMS, {} if found is None else {BOTTLE_SHORT.name: found})

    def feed_beside(self, probe: str, temp_c: float) -> None:
        """Take a believed temperature of another probe (°C), by its name: on the bottle it shows the liquid's."""
        if self._gas is not None and probe == self._bottle_probe:
            self._gas.see_liquid(temp_c)

    def take_pair(self, pair: Pair | None) -> None:
        """Take what pot and chamber showed together; None where one of the probes is not where it was."""
        balance, segment = self._balance, self._tracker.segment
        if balance is None or balance.is_over or segment is None:
            return
        if pair is None or segment.kind is SegmentKind.TRANSFER:
            balance.stop()
        elif not balance.feed(pair.time_s, pair.pot_c, pair.chamber_c):
            return
        if balance.is_dry and not self._dry_told:
            self._dry_told = True
            self._shown_dry()
            self._events.observe(f"no water leaves the pot any more: {balance_words(balance.gone)}; it is dry")
        elif balance.is_over and not self._dry_told and balance.gone is not None:
            self._events.observe(f"{balance_words(balance.gone)}; that is not shown to be all of it: weigh the pot")

    def mark(self, text: str) -> None:
        """Take a person's mark: a bottle that was changed, or what it or the pot weighs."""
        name = mark_name(text)
        if self._water is not None:
            self._water.mark(name)
        if self._gas is None:
            return
        if name == "bottle-changed":
            self._gas.change()
        elif (gross_kg := maybe_weight_kg(name, BOTTLE)) is not None:
            self._events.say_here(EventName.OBSERVED, f"bottle · {self._gas.weigh(gross_kg)}")

    def worth(self, doubted_since_s: float | None) -> None:
        """Take since when readings say nothing of the pot, s; None while they do."""
        if doubted_since_s is None:
            return
        if self._wall is not None:
            self._wall.doubt(doubted_since_s)
        if self._water is not None:
            self._water.resume()

    def resume(self) -> None:
        """Go on after a blind time."""
        if self._water is not None:
            self._water.resume()

    def add_reason(self, time_s: float, found: dict[str, Finding]) -> None:
        """Add to what a believed reading shows of the limits what the pot's water explains of it."""
        if self._water is not None:
            self._water.add_reason(time_s, found)

    def water_state(self) -> WaterState | None:
        """Give what has been seen of the pot's water; None while nothing has, or where nobody looks."""
        state = None if self._water is None else self._water.state()
        balance = self._balance
        if balance is None or balance.gone is None:
            return state
        gone = balance.gone
        return replace(
            state or WaterState(None, None, None),
            gone_g=round(gone.grams),
            gone_range_g=(round(gone.low_g), round(gone.high_g)),
            is_dry=balance.is_dry,
        )

    @property
    def dry_heat(self) -> DryHeat | None:
        """What this heat shows of its oven, where the pot was dry before: later heats reckon with it."""
        return self._balance.learnt() if self._balance is not None and self._is_dry_before else None

    def wall_state(self) -> WallState | None:
        """Give the wall's difference; None where it is not followed or not known."""
        return None if self._wall is None else self._wall.state()

    @property
    def wall_peaks(self) -> tuple[WallPeak, ...]:
        """The greatest difference of each segment."""
        return () if self._wall is None else self._wall.by_segment

    def gas_state(self) -> GasState | None:
        """Give the gas as it is; None where it is not followed."""
        return None if self._gas is None else self._gas.state()

    @property
    def gas_figures(self) -> GasFigures | None:
        """What the heat has taken of its gas so far; None where it is not followed."""
        return None if self._gas is None else self._gas.figures()
