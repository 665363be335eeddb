"""Somebody who runs a first heat: looks in once a minute, forgets, overshoots, is called away, changes the bottle.

One class, whether or not anybody tells them anything: who hears the watch differs in what `Ears` brings, in reading the
display where the other aims a spot thermometer, and in nothing else. Chance is drawn by the minute beforehand.
"""

from collections.abc import Callable

from benchmarks.help.drawn import Drawn
from benchmarks.help.world import World
from rampwarden.core.short_orders import ShortOrder

OVEN, DRY, CARRY, RED, HOT, SOAK, COOL = range(7)
"""The segments, as the person runs them."""

_AIRS_S, _CHANGES_S, _MENDS_S, _WALKS_S = 120, 120, 180, 30
_PEEK_S = 15
FADES = 0.93
"""Share of the wanted flame below which a person sees, at gauge and flame, that the bottle fails."""
_BELIEVES_APART = 0.06
"""A display that differs so much from the spot thermometer, as a share, is not believed."""
_CHECKS_EVERY = 10
"""Minutes after which who reads the display aims the spot thermometer all the same."""


_TURNS: dict[str, tuple[float, float]] = {
    ShortOrder.EASE_HEAT: (0.9, 6.0),
    ShortOrder.LOWER_HEAT: (0.75, 14.0),
    ShortOrder.LOWER_HEAT_NOW: (0.7, 14.0),
    ShortOrder.HOLD_HEAT: (1.0, 0.0),
    ShortOrder.RAISE_HEAT: (1.12, -5.0),
}
"""What an order makes of the valve, as a share, and by how much of the oven's dial (°C) it is turned down."""
_LOOKS_AT_PROBE: tuple[str, ...] = (
    ShortOrder.CHECK_PROBE,
    ShortOrder.CHECK_WIRES,
    ShortOrder.RESTART_BOARD,
    ShortOrder.CHECK_CABLE,
    ShortOrder.PROBE_BACK,
    ShortOrder.SWAP_WIRES,
)


class Person:
    """One person at one furnace. `index` is the segment, `done` that the gas is off for good.

    `shown_c` gives what the display says (°C), None where there is none or it is not to be believed; `mark` tells the
    watch a mark.
    """

    def __init__(
        self,
        drawn: Drawn,
        world: World,
        shown_c: Callable[[], float | None] = lambda: None,
        mark: Callable[[str], None] = lambda text: None,
    ) -> None:
        self._drawn, self._world, self._habits = drawn, world, drawn.habits
        self._shown_c, self._mark = shown_c, mark
        self.index = OVEN
        self.done = False
        self.valve = 0.0
        self.lifted: Callable[[], None] = lambda: None
        self._entered_s = 0
        self._memory: list[tuple[int, float]] = []
        self._notch_due_s = 0
        self._trim_due_s = 0
        self._busy_until_s = 0
        self._then: Callable[[], None] | None = None
        self._attends_until_s = -1
        self._spare = drawn.gas.spare_at_hand
        self._peeks = 0
        self._peeked_s: int | None = None
        self._leaves_be_s = -1
        self._says_done = False
        world.dial_c = 20.0

    # What others may ask

    def hears(self, second: int) -> bool:
        """Tell whether a voice reaches the person."""
        return all(each.hears or not each.from_s <= second < each.to_s for each in self._drawn.absences)

    @property
    def busy(self) -> bool:
        """Whether the hands are full."""
        return self._then is not None

    def has_done(self, order: str) -> bool:
        """Tell whether nothing is left to do of an order: a full bottle stands ready."""
        return order == ShortOrder.FULL_BOTTLE and self._spare

    def attend(self, second: int) -> None:
        """Called, the person stays for a while."""
        self._attends_until_s = second + 600

    def hear_done(self) -> None:
        """Told that the present soak is complete."""
        self._says_done = True

    # A second

    def live(self, second: int) -> None:
        """Let a second pass: finish what is in hand, else look in when a minute is over."""
        if self._then is not None:
            if second >= self._busy_until_s:
                then, self._then = self._then, None
                then()
            return
        if self._peeked_s is not None:
            self._shut_after_peek(second)
        elif self._is_away(second):
            return
        if second % 60 == 0:
            self._look(second, second // 60)

    def _is_away(self, second: int) -> bool:
        for each in self._drawn.absences:
            if each.from_s <= second < each.to_s:
                return not (each.hears and second < self._attends_until_s)
        return False

    def _look(self, second: int, minute: int) -> None:
        temp_c = self._temperature(minute)
        self._memory.append((second, temp_c))
        del self._memory[:-3]
        self._pass_on(second, temp_c)
        if self.index in (OVEN, DRY):
            self._at_the_dial(second, minute, temp_c)
        elif self.index in (RED, HOT, SOAK):
            if self._sees_to_flame(minute):
                return
            self._peek(second)
            self._at_the_valve(second, minute, temp_c)
        elif self.index == COOL and self._world.controls.lid_open and self._drawn.chance[minute, 1] < 0.5:
            self._world.controls.lid_open = False

    def _temperature(self, minute: int) -> float:
        """Read the display, or aim the spot thermometer."""
        habits, pot_c = self._habits, self._world.pot_c
        spot_c = pot_c + habits.spot_bias * (pot_c - 20.0) + habits.spot_c * float(self._drawn.spot[minute])
        shown_c = self._shown_c()
        if shown_c is None:
            return spot_c
        if minute % _CHECKS_EVERY == 0 and self.index in (RED, HOT, SOAK):
            apart = abs(shown_c - spot_c)
            if apart > max(_BELIEVES_APART * spot_c, 4.0 * habits.spot_c):
                self._do(_MENDS_S, self._mend_probe)
                return spot_c
        return shown_c

    # The schedule

    def _pass_on(self, second: int, temp_c: float) -> None:
        segments, since_s = self._drawn.schedule.segments, second - self._entered_s
        match self.index:
            case 0 if temp_c >= segments[DRY].lowest_c:
                self._enter(DRY, second)
            case 1 if self._has_soaked(since_s, segments[DRY].hold_s):
                self._carry(second)
            case 3 if temp_c >= (segments[RED].to_c or 0.0):
                self._enter(HOT, second)
            case 4 if temp_c >= segments[SOAK].lowest_c:
                self._enter(SOAK, second)
            case 5 if self._has_soaked(since_s, segments[SOAK].hold_s):
                self._enter(COOL, second)
                self._world.controls.lit = False
                self._world.controls.valve = 0.0
                self.done = True

    def _has_soaked(self, since_s: int, hold_s: float) -> bool:
        """By what was said; who is told nothing, or waits for it in vain, goes by the clock."""
        if self._says_done:
            return True
        patience_s = 900.0 if self._shown_c() is not None else 0.0
        return since_s >= hold_s + self._habits.clock_s + patience_s

    def _enter(self, index: int, second: int) -> None:
        self.index, self._entered_s, self._says_done = index, second, False

    def _carry(self, second: int) -> None:
        self._enter(CARRY, second)
        self.lifted()
        self._tell("transfer", second)
        self._world.lift()
        self._do(self._drawn.carried_s, self._set_down)

    def _set_down(self) -> None:
        second = self._world.second
        self._world.set_down()
        self._enter(RED, second)
        self._memory.clear()
        self._tell("arrived", second)
        self.valve = 0.35
        self._do(60, self._light)

    def _light(self) -> None:
        self._world.light(self.valve)

    def _tell(self, text: str, second: int) -> None:
        if self._drawn.chance[second // 60, 4] < self._habits.marks:
            self._mark(text)

    # Hands

    def _do(self, seconds: float, then: Callable[[], None]) -> None:
        self._busy_until_s = self._world.second + int(seconds)
        self._then = then

    def _exaggerated(self, minute: int) -> float:
        return 2.0 if self._drawn.chance[minute, 0] < self._habits.exaggerates else 1.0

    def _at_the_dial(self, second: int, minute: int, temp_c: float) -> None:
        world, habits = self._world, self._habits
        if self.index == OVEN:
            if second < self._notch_due_s:
                return
            late = second - self._notch_due_s >= habits.notch_s and habits.catches_up
            notches = (2.0 if late else 1.0) * self._exaggerated(minute)
            # A dial that stands at the target and gives too little is turned on, in smaller steps.
            notches *= 1.0 if world.dial_c < 180.0 else 0.4
            world.dial_c += habits.notch * notches
            self._notch_due_s = second + int(habits.notch_s)
        elif second >= self._trim_due_s:
            self._trim_due_s = second + 600
            off_c = (self._drawn.schedule.segments[DRY].at_c or 0.0) - temp_c
            world.dial_c += 0.5 * off_c * self._exaggerated(minute)

    def _slope(self, usual: float) -> float:
        """Give the climb by the last looks, °C/s."""
        (from_s, from_c), (to_s, to_c) = self._memory[0], self._memory[-1]
        return (to_c - from_c) / (to_s - from_s) if to_s > from_s else usual

    def _at_the_valve(self, second: int, minute: int, temp_c: float) -> None:
        if second < self._leaves_be_s or not self._world.burns:
            return
        habits, schedule = self._habits, self._drawn.schedule
        limit = schedule.fastest_c_per_s(min(self.index, HOT)) or 0.2
        pace, target_c = habits.pace * limit, schedule.segments[SOAK].at_c or 0.0
        slope, left_c = self._slope(pace), target_c - temp_c
        share = 1.0
        if self.index == SOAK or (self.index == HOT and left_c < slope * habits.lead_s):
            error_c = (left_c / (1.5 * habits.lead_s) - slope) * habits.lead_s
            if abs(error_c) > 4.0:
                share = min(max(1.0 + habits.firm * 0.008 * error_c, 0.65), 1.3)
        elif slope > 1.12 * pace:
            share = 1.0 - habits.firm * min(0.2, 0.4 * (slope / pace - 1.0))
        elif slope < 0.88 * pace:
            share = 1.0 + habits.firm * min(0.15, 0.4 * (1.0 - slope / pace))
        if share != 1.0:
            self._turn(share ** self._exaggerated(minute) * (1.0 + 0.04 * float(self._drawn.turn[minute])))

    def _turn(self, share: float) -> None:
        self.valve = min(max(self.valve * share, 0.04), 1.0)
        self._world.controls.valve = self.valve

    def _sees_to_flame(self, minute: int) -> bool:
        """Notice, at a look, what is wrong with flame, gas or lid; gives whether the hands are full now."""
        world, chance = self._world, self._drawn.chance[minute]
        if world.controls.lid_open and self._peeked_s is None and chance[1] < 0.4:
            world.controls.lid_open = False
        if not world.burns:
            if chance[2] < 0.9:
                self.relight()
                return True
        elif world.controls.supply < FADES and chance[3] < (0.7 if self._spare else 0.3):
            self.see_to_bottle()
            return True
        return False

    def relight(self) -> None:
        """Close the valve, air out, change the bottle if it is empty, and light again."""
        self._world.controls.lit = False
        self._do(_AIRS_S, self._relight)

    def _relight(self) -> None:
        if self._world.bottle.supply < FADES:
            self.see_to_bottle()
        else:
            self._world.light(self.valve)

    def see_to_bottle(self) -> None:
        """Change it, or fetch a full one first; it goes on burning what it has meanwhile."""
        if self._spare:
            self._world.controls.lit = False
            self._do(_CHANGES_S, self._changed)
        else:
            self.fetch(self.see_to_bottle)

    def fetch(self, then: Callable[[], None] = lambda: None) -> None:
        """Go for a full bottle."""

        def back() -> None:
            self._spare = True
            then()

        if not self._spare:
            self._do(self._drawn.gas.fetch_s, back)

    def _changed(self) -> None:
        self._spare = False
        self._world.bottle.refill(self._drawn.gas.full_kg)
        self._tell("bottle-changed", self._world.second)
        self._world.light(self.valve)

    def _peek(self, second: int) -> None:
        """Look into the pot now and then; one time in five the lid is left ajar."""
        flame_s, peeks = self._world.flame_s, self._drawn.peeks_s
        if self._peeks < len(peeks) and flame_s >= peeks[self._peeks]:
            self._world.controls.lid_open = True
            if not self._drawn.forgotten_peek[self._peeks]:
                self._peeked_s = second
            self._peeks += 1

    def _shut_after_peek(self, second: int) -> None:
        if self._peeked_s is not None and second >= self._peeked_s + _PEEK_S:
            self._world.controls.lid_open = False
            self._peeked_s = None

    def _mend_probe(self) -> None:
        if self._world.misreads:
            self._world.probe.mended = True

    # Orders

    def obey(self, order: str) -> None:
        """Do at once what one is told, as a person does it; an order that only wants a card read asks nothing."""
        second = self._world.second
        match order:
            case each if each in _TURNS:
                self._less_heat(second, *_TURNS[each])
            case ShortOrder.SEE_HEATING if self._world.burns and self._world.controls.supply >= FADES:
                # It burns, and it falls all the same: there is too little of it.
                self._less_heat(second, 1.15, -5.0)
            case ShortOrder.CLOSE_GAS | ShortOrder.SEE_FLAME | ShortOrder.SEE_HEATING:
                self._go_and_see()
            case ShortOrder.CLOSE_LID:
                self._world.controls.lid_open = False
            case ShortOrder.FULL_BOTTLE:
                self.fetch()
            case ShortOrder.HEAT_OFF:
                self._world.controls.lit = False
            case each if each in _LOOKS_AT_PROBE:
                self._do(_MENDS_S, self._mend_probe)

    def _less_heat(self, second: int, share: float, dial_c: float) -> None:
        if self.index in (OVEN, DRY):
            # Nobody turns a dial far below what the pot has: there the oven gives nothing any more.
            lowest_c = self._memory[-1][1] - 15.0 if self._memory else 20.0
            self._world.dial_c = max(self._world.dial_c - dial_c, min(lowest_c, self._world.dial_c))
            if dial_c >= 0.0:
                self._notch_due_s = max(self._notch_due_s, second + int(240.0 + 15.0 * dial_c))
            self._trim_due_s = max(self._trim_due_s, second + 600)
        elif self._world.burns:
            self._turn(share)
            self._leaves_be_s = second + 60

    def _go_and_see(self) -> None:
        if self.index not in (RED, HOT, SOAK):
            return
        if not self._world.burns:
            self.relight()
        elif self._world.controls.supply < FADES:
            self.see_to_bottle()
        else:
            self._do(_WALKS_S, lambda: None)
