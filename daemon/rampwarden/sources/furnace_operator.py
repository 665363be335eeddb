"""The person at the gas valve in a rehearsal: follows a schedule by looking at the temperature now and then.

Owns how a practised hand goes about it: every twenty to sixty seconds a look and perhaps a turn of the valve, aiming at
three quarters of the tightest limit; the lid open while drying; the pot carried over from oven to furnace; a low flame
in cooling as long as the closed furnace alone would fall too fast. Mishaps of the hand and of the gas are made here
too. It must not know boards, frames or clocks, and it takes no notice of alarms.

The operator keeps a mark, the temperature that should stand now. The mark walks towards the goal of the segment at the
planned rate and never runs far from the pot; the valve is set for the mark's own rate plus a share of what is missing.
"""

import math
import random

from rampwarden.core.schedule import OutOfBand, Schedule, Segment, SegmentKind
from rampwarden.sources.furnace_faults import FaultName, FaultPlace, place_of
from rampwarden.sources.furnace_model import ROOM_C, FurnaceModel, PotPlace

# How the hand aims: this share of the tightest limit, and at least so much above a minimum rate.
_AIM_SHARE = 0.75
_ABOVE_MINIMUM = 1.3
# Never asked for more than this share of the limit, whatever is missing.
_MOST_SHARE = 0.82
# Without any limit, and where limits allow more than a small furnace is ever given: 300 K/h and 20 °C/min.
_USUAL_C_PER_S = 300.0 / 3600.0
_FASTEST_C_PER_S = 20.0 / 60.0

_LOOK_S = (20.0, 60.0)
_LOOK_AGAIN_S = 10.0  # during an excursion, so that its size does not hang on when the hand looks
_UNSTEADY_HAND = 0.01  # of the setting, 1 sigma
_CLOSING_IN_S = 300.0  # the last of a gap is closed exponentially, with this time constant
_CATCHING_UP_S = 240.0  # what is missing to the mark is made up within about this time
_CORNER_AHEAD_S = 150.0  # before a slower ramp the hand eases off this long ahead
_DRYING_LID_OPEN_BELOW_C = 250.0
_HOTTEST_OVEN_C = 350.0  # a kitchen's stops at 250 to 290 °C; what leads higher happens in the furnace

_CARRYING_S = 300.0
_BEFORE_LIFTING_S = 60.0
# The hand moves when the soak is certainly over, also by the clock of a watch that saw it through noise.
_PATIENCE_S = 20.0

# Mishaps: share of the limit, and for how long.
_FAST_RAMP = (1.8, 1200.0)
_SLOW_RED_HEAT = (0.5, 900.0)
# A notch gives a little less than its number, as ovens lose more when they are warmer. That matters: the pot's lag
# shrinks as it radiates more, so with whole notches it would climb slightly more than one notch in a window.
_NOTCH_SHARE = 0.94
_GAS_LOST, _GAS_SAG_S, _GAS_NOTICED_S = 0.6, 1200.0, 1500.0
# Excursions from a soak: rate, and how far past the edge the hand turns back; the pot's inertia adds a little.
# Three kilograms of scrap, at 0.4 kJ/(kg·°C) as of bronze.
_CHARGE_J_PER_C = 1200.0
_DRIFT_C_PER_S, _DRIFT_BEYOND_C = 0.06, 11.0
_OVERSHOOT_C_PER_S, _OVERSHOOT_BEYOND_C = 0.15, 9.0


class Operator:
    """Walks a schedule with a furnace. Public state is for reading: `index`, `complete`, `fault_since_s`."""

    def __init__(
        self,
        schedule: Schedule,
        furnace: FurnaceModel,
        rng: random.Random,
        fault: FaultName | None = None,
        fault_place: FaultPlace | None = None,
    ) -> None:
        self._schedule = schedule
        self._furnace = furnace
        self._rng = rng
        self._fault = fault
        self._fault_place = fault_place or (None if fault is None else place_of(fault, schedule))
        self.fault_since_s: float | None = None
        self._fault_began_c = furnace.probe_c
        self.complete = False
        self.index = schedule.joining_segment(furnace.probe_c)
        self._next_look_s = 0.0
        self._last_look_s = 0.0
        self._soaked_s = 0.0
        self._turned_back = False
        self._astray = False
        self._charged = False
        self._begin(0.0)

    @staticmethod
    def first_place(schedule: Schedule, start_c: float) -> PotPlace:
        """Tell where a pot of `start_c` is found: in the oven if the schedule will still carry it out of one."""
        hottest_c = start_c
        for segment in schedule.segments[schedule.joining_segment(start_c) :]:
            if segment.kind is SegmentKind.TRANSFER:
                return PotPlace.OVEN if hottest_c <= _HOTTEST_OVEN_C else PotPlace.FURNACE_LID_SHUT
            hottest_c = max(hottest_c, segment.target_c or 0.0)
        return PotPlace.FURNACE_LID_SHUT

    def attend(self, time_s: float, since_s: float) -> None:
        """Be there for the `since_s` seconds up to `time_s`: walk on in the schedule, look, turn the valve."""
        if self.complete:
            return
        self._notice_fault(time_s)
        if self._segment_done(time_s, since_s):
            self.index += 1
            if self.index >= len(self._schedule.segments):
                self.complete = True
                self._furnace.heat_w = 0.0
                return
            self._begin(time_s)
        dial_w = self._dial_heat(time_s)
        if self._segment.kind is SegmentKind.TRANSFER:
            self._carry(time_s)
        elif dial_w is not None:
            self._set(dial_w)
        elif time_s >= self._next_look_s:
            self._turn(time_s)

    def fault_age_s(self, fault: FaultName, time_s: float) -> float | None:
        """Tell how long `fault` has been on, s; None if it is not the fault of this rehearsal or is yet to come."""
        return time_s - self.fault_since_s if fault is self._fault and self.fault_since_s is not None else None

    def fault_is_on(self, fault: FaultName, time_s: float) -> bool:
        """Tell whether `fault` is on and has not yet lasted its time."""
        age_s, place = self.fault_age_s(fault, time_s), self._fault_place
        return age_s is not None and place is not None and age_s < place.lasting_s

    def stands_in(self, place: FaultPlace, time_s: float) -> bool:
        """Tell whether the heat stands in the segment of `place`, for at least as long as that asks."""
        return self.index == place.segment and time_s - self._began_s >= place.after_s

    # The schedule

    @property
    def _segment(self) -> Segment:
        return self._schedule.segments[self.index]

    @property
    def _segment_after(self) -> Segment | None:
        following = self._schedule.segments[self.index + 1 :]
        return following[0] if following else None

    def _begin(self, time_s: float) -> None:
        segment = self._segment
        self._began_s = time_s
        self._last_look_s = self._next_look_s = time_s
        self._soaked_s = 0.0
        self._mark_c = self._furnace.probe_c
        self._aim_c_per_s = _aim(self._schedule, self.index)
        limits = self._schedule.limits_in_force(self.index)
        self._most_c_per_s = _MOST_SHARE * min((rate.c_per_s for rate in limits), default=_FASTEST_C_PER_S)
        self._most_c_per_s = max(self._most_c_per_s, self._aim_c_per_s)
        if self._furnace.place is not PotPlace.OVEN and segment.kind is not SegmentKind.TRANSFER:
            drying = segment.kind is not SegmentKind.COOL and (segment.target_c or 0.0) <= _DRYING_LID_OPEN_BELOW_C
            self._furnace.move_to(PotPlace.FURNACE_LID_OPEN if drying else PotPlace.FURNACE_LID_SHUT)

    def _segment_done(self, time_s: float, since_s: float) -> bool:
        segment, probe_c = self._segment, self._furnace.probe_c
        match segment.kind:
            case SegmentKind.RAMP:
                return probe_c >= self._schedule.end_of_ramp_c(self.index)
            case SegmentKind.COOL:
                # Nothing cools below the room, whatever is written.
                return probe_c <= max(segment.to_c or 0.0, ROOM_C + 5.0)
            case SegmentKind.SOAK:
                if segment.lowest_c <= probe_c <= segment.highest_c:
                    self._soaked_s += since_s
                elif segment.out_of_band is OutOfBand.RESTART:
                    self._soaked_s = 0.0
                return self._soaked_s >= segment.hold_s + _PATIENCE_S
            case SegmentKind.TRANSFER:
                return time_s - self._began_s >= _BEFORE_LIFTING_S + _CARRYING_S

    def _carry(self, time_s: float) -> None:
        lifted = time_s - self._began_s >= _BEFORE_LIFTING_S
        if lifted and self._furnace.place is not PotPlace.OPEN_AIR:
            self._furnace.move_to(PotPlace.OPEN_AIR)

    # The valve

    def _turn(self, time_s: float) -> None:
        furnace = self._furnace
        if furnace.gas_pressure < 1.0 or furnace.place is PotPlace.FURNACE_UNCOVERED:
            return  # the hand is elsewhere: it has not noticed, or it holds the lid
        heat_w = furnace.heat_for_ramp(self._wanted_ramp(time_s))
        self._last_look_s = time_s
        self._next_look_s = time_s + (_LOOK_AGAIN_S if self._astray else self._rng.uniform(*_LOOK_S))
        self._set(heat_w * self._rng.gauss(1.0, _UNSTEADY_HAND))

    def _set(self, heat_w: float) -> None:
        """Turn to `heat_w` as far as burner or element can; a flame is shut off only in cooling."""
        furnace = self._furnace
        chamber = furnace.chamber
        if chamber is None:
            return
        if self._segment.kind is SegmentKind.COOL:
            # Shut off well below the smallest flame, relit well above it: no hand does it every minute.
            enough_w = (0.8 if furnace.heat_w > 0.0 else 1.5) * chamber.lowest_w
            if heat_w < enough_w:
                furnace.heat_w = 0.0
                return
        furnace.heat_w = min(max(heat_w, chamber.lowest_w), chamber.highest_w)

    def _wanted_ramp(self, time_s: float) -> float:
        """Move the mark on and give the ramp the pot should have until the next look, °C/s."""
        excursion = self._excursion(time_s)
        self._astray = excursion is not None
        if excursion is not None:
            self._mark_c = self._furnace.probe_c
            return excursion
        probe_c = self._furnace.probe_c
        aim = self._present_aim(time_s, probe_c)
        goal_c = self._goal_c()
        rate = min(max((goal_c - self._mark_c) / _CLOSING_IN_S, -aim), aim)
        self._mark_c += rate * (time_s - self._last_look_s)
        leash_c = max(aim * 60.0, 1.0)
        self._mark_c = min(max(self._mark_c, probe_c - leash_c), probe_c + leash_c)
        most = max(self._most_c_per_s, aim)
        return min(max(rate + (self._mark_c - probe_c) / _CATCHING_UP_S, -most), most)

    def _goal_c(self) -> float:
        """Where the hand is heading: for a ramp with a soak after it the soak's own temperature, else a bit beyond."""
        segment, after = self._segment, self._segment_after
        target_c = segment.target_c or 0.0
        # Far enough beyond that the hand does not close in before it is there.
        beyond_c = 2.0 * self._aim_c_per_s * _CLOSING_IN_S
        if segment.kind is SegmentKind.COOL:
            return target_c - beyond_c
        if segment.kind is SegmentKind.RAMP:
            return after.at_c if after is not None and after.at_c is not None else target_c + beyond_c
        return target_c

    def _present_aim(self, time_s: float, probe_c: float) -> float:
        segment, after = self._segment, self._segment_after
        fast_share, fast_s = _FAST_RAMP
        slow_share, slow_s = _SLOW_RED_HEAT
        if self._going_wrong(FaultName.FAST_RAMP, time_s, fast_s):
            return fast_share * min(rate.c_per_s for rate in segment.max_rates)
        if self._going_wrong(FaultName.SLOW_RED_HEAT, time_s, slow_s) and segment.min_rate is not None:
            return slow_share * segment.min_rate.c_per_s
        aim = self._aim_c_per_s
        if after is not None and after.kind is segment.kind:
            next_aim = _aim(self._schedule, self.index + 1)
            if next_aim < aim and abs((segment.to_c or 0.0) - probe_c) < aim * _CORNER_AHEAD_S:
                least = segment.min_rate.c_per_s * _ABOVE_MINIMUM if segment.min_rate is not None else 0.0
                aim = max(next_aim, least)
        return aim

    # Mishaps of hand and gas

    def _going_wrong(self, fault: FaultName, time_s: float, lasting_s: float = math.inf) -> bool:
        """Tell whether `fault` is on, in its own segment and for no longer than it lasts."""
        age_s, place = self.fault_age_s(fault, time_s), self._fault_place
        return age_s is not None and age_s < lasting_s and place is not None and self.index == place.segment

    def _notice_fault(self, time_s: float) -> None:
        place = self._fault_place
        if place is None:
            return
        if self.fault_since_s is None:
            if self.stands_in(place, time_s) and self._furnace.probe_c >= place.from_c:
                self.fault_since_s = time_s
                self._fault_began_c = self._furnace.probe_c
                self._next_look_s = time_s
            return
        if self._fault is FaultName.GAS_FAILING:
            age_s = time_s - self.fault_since_s
            sagged = _GAS_LOST * min(age_s / _GAS_SAG_S, 1.0)
            self._furnace.gas_pressure = 1.0 - sagged if age_s < _GAS_NOTICED_S else 1.0
        elif self._fault is FaultName.FLAME_OUT:
            self._furnace.gas_pressure = 0.0 if self.fault_is_on(FaultName.FLAME_OUT, time_s) else 1.0
        elif self._fault in (FaultName.LID_OPEN, FaultName.CHARGE):
            self._lift_lid(time_s)

    def _lift_lid(self, time_s: float) -> None:
        """Lift the lid for as long as the mishap lasts; half-way through, metal goes into the pot if it is to."""
        furnace, place = self._furnace, self._fault_place
        if place is None or self.fault_since_s is None:
            return
        age_s = time_s - self.fault_since_s
        if age_s < place.lasting_s:
            furnace.move_to(PotPlace.FURNACE_UNCOVERED)
        elif furnace.place is PotPlace.FURNACE_UNCOVERED:
            furnace.move_to(PotPlace.FURNACE_LID_SHUT)
        if self._fault is FaultName.CHARGE and not self._charged and age_s >= 0.5 * place.lasting_s:
            self._charged = True
            furnace.charge(_CHARGE_J_PER_C)

    def _dial_heat(self, time_s: float) -> float | None:
        """Give the heat of a thermostat whose dial is moved in notches, W; None if no dial is being moved."""
        age_s = self.fault_age_s(FaultName.OVEN_NOTCHES, time_s)
        place = self._fault_place
        if age_s is None or place is None:
            return None
        soaking_after = self.index == place.segment + 1 and self._segment.kind is SegmentKind.SOAK
        if self.index != place.segment and not soaking_after:
            return None
        notch = min(self._schedule.segments[place.segment].max_rates, key=lambda rate: rate.c_per_s)
        notches = 1 + int(age_s // notch.window_s)
        dial_c = self._fault_began_c + notches * _NOTCH_SHARE * notch.climb_c
        return self._furnace.heat_for_dial(min(dial_c, self._goal_c()))

    def _excursion(self, time_s: float) -> float | None:
        """Give the ramp of a hand that lets a soak run away, °C/s; None once it has turned back or if it does not."""
        if self._turned_back:
            return None
        segment, probe_c = self._segment, self._furnace.probe_c
        if self._going_wrong(FaultName.SOAK_DRIFT, time_s):
            self._turned_back = probe_c < segment.lowest_c - _DRIFT_BEYOND_C
            return -_DRIFT_C_PER_S
        if self._going_wrong(FaultName.OVERSHOOT, time_s):
            ceiling_c = segment.ceiling_c if segment.ceiling_c is not None else segment.highest_c
            self._turned_back = probe_c > ceiling_c + _OVERSHOOT_BEYOND_C
            return _OVERSHOOT_C_PER_S
        return None


def _aim(schedule: Schedule, index: int) -> float:
    """Give the rate a hand aims at in segment `index`, °C/s, without sign."""
    slowest = schedule.segments[index].min_rate
    most = schedule.fastest_c_per_s(index)
    if most is None:
        # A cooling that nobody limits is left to the furnace: no flame will ever be wanted.
        aim = _FASTEST_C_PER_S if schedule.segments[index].kind is SegmentKind.COOL else _USUAL_C_PER_S
    else:
        aim = _AIM_SHARE * most
    if slowest is not None:
        aim = max(aim, _ABOVE_MINIMUM * slowest.c_per_s)
        if most is not None:
            aim = min(aim, _MOST_SHARE * most)
        return max(min(aim, _FASTEST_C_PER_S), _ABOVE_MINIMUM * slowest.c_per_s)
    return min(aim, _FASTEST_C_PER_S)
