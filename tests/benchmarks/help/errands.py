"""Whether there was a matter behind what somebody was told to do: asked of the truth, never of the watch."""

import copy
from collections import deque

from benchmarks.help.outcome import PotTruth
from benchmarks.help.person import FADES
from benchmarks.help.world import World
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.short_orders import ShortOrder

_HEAT_DOWN = (ShortOrder.EASE_HEAT, ShortOrder.LOWER_HEAT, ShortOrder.LOWER_HEAT_NOW)
_PROBE = (
    ShortOrder.CHECK_PROBE,
    ShortOrder.CHECK_WIRES,
    ShortOrder.SWAP_WIRES,
    ShortOrder.RESTART_BOARD,
    ShortOrder.CHECK_CABLE,
    ShortOrder.PROBE_BACK,
    ShortOrder.CABLE_RUN,
    ShortOrder.CHECK_TYPE,
)
_LOOKS_BACK_S = 300
_NEAR = 0.9
"""Share of a climb limit from which to ease the heat is no errand for nothing."""
_NEAR_C = 15.0
_BOTTLE_LASTS_S = 3600.0
"""A full bottle fetched an hour before it is needed is not fetched for nothing."""


class Matters:
    """Remembers the last minutes of the truth."""

    def __init__(self, world: World, truth: PotTruth) -> None:
        self._world, self._truth = world, truth
        self._ratios: deque[float] = deque(maxlen=_LOOKS_BACK_S)
        self._pots: deque[float] = deque(maxlen=_LOOKS_BACK_S)
        self._odd_s = self._out_s = -1e9

    def follow(self) -> None:
        """Take this second's truth."""
        self._ratios.append(self._truth.ratio)
        self._pots.append(self._world.pot_c)
        world = self._world
        if world.where == "furnace" and not world.burns:
            self._out_s = world.second
        if world.where == "furnace" and (world.misreads or world.lid_open or world.controls.supply < 0.9):
            self._odd_s = world.second

    def is_so(self, order: str, index: int) -> bool:
        """Tell whether the order had a reason, in segment `index` as the person runs it."""
        world, segment = self._world, self._truth.schedule.segments[index]
        pot_c = self._pots[-1]
        climbs_c_per_s = (pot_c - self._pots[0]) / len(self._pots)
        lately_odd = world.second - self._odd_s < _LOOKS_BACK_S
        heating = segment.kind.heats
        match order:
            case each if each in _HEAT_DOWN:
                top_c = segment.highest_c if segment.kind is SegmentKind.SOAK else segment.ceiling_c
                near = top_c is not None and pot_c + 60.0 * max(climbs_c_per_s, 0.0) > top_c - _NEAR_C
                return near or max(self._ratios) > _NEAR or self._comes_near_if_left()
            case ShortOrder.RAISE_HEAT:
                if segment.kind is SegmentKind.SOAK:
                    return pot_c < segment.lowest_c + _NEAR_C
                least = segment.min_rate
                return least is not None and climbs_c_per_s < 1.1 * least.c_per_s
            case ShortOrder.CLOSE_GAS:
                return heating and world.second - self._out_s < _LOOKS_BACK_S
            case ShortOrder.SEE_FLAME:
                return heating and (world.second - self._out_s < _LOOKS_BACK_S or world.controls.supply < FADES)
            case ShortOrder.SEE_HEATING:
                return heating and climbs_c_per_s < 0.0
            case ShortOrder.CLOSE_LID:
                return world.lid_open or (world.second - self._odd_s < 60)
            case ShortOrder.FULL_BOTTLE:
                return not world.bottle.lasts(world.drawn.gas.full_kw * max(world.controls.valve, 0.2), _BOTTLE_LASTS_S)
            case ShortOrder.HEAT_OFF:
                return not heating and world.burns
            case each if each in _PROBE:
                return world.misreads or lately_odd
            case _:
                # Cards to be read, segments that are overdue, a probe too slow for its limit: nobody is sent anywhere.
                return True

    def _comes_near_if_left(self) -> bool:
        """Tell whether the pot comes near its limit, or over it, within a window if nobody touches anything: ahead of
        what would come is when a caution is worth most."""
        world, truth = copy.deepcopy((self._world, self._truth), {id(self._world.drawn): self._world.drawn})
        for _ in range(int(truth.longest_window_s)):
            world.step()
            truth.follow(float(world.second), world.pot_c, truth.index, starved=world.bottle.starved)
            if truth.ratio > _NEAR:
                return True
        return False
