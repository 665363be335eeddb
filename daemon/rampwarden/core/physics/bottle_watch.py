"""Follows the gas through a running heat: what is left, how cold and at what pressure, and whether it will last.

Theory of operation. The bottle is stepped by the clock with what burns in the present segment. Once a minute it is
looked ahead: the same bottle drawn on through what the heat still needs, four hours at most. A weight corrects what is
left; what was taken since the weight before tells how much the burner really takes, and it is reckoned on with that. A
change begins a fresh bottle, as warm as the air.

An estimate: the exchange of heat through the steel is fitted to a chart of withdrawal, and frost or wind change it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rampwarden.core.model import Finding, GasFigures, GasState
from rampwarden.core.physics.bottle import COLDEST_C, NET_MJ_PER_KG, BottleUnderWay
from rampwarden.core.physics.gas_supply import GasSupply
from rampwarden.core.quantities import format_duration

RINGS_AHEAD_S = 1200.0
"""s before the pressure comes within `SPARE_BAR` of what is needed. A bottle that is reckoned right then lasts another
quarter or half of an hour; one whose burner takes a tenth more, three degrees colder, is short there.
Own arithmetic."""
SPARE_BAR = 0.5
"""Gauge pressure over what is needed, bar: the model is good to about that. The plan's own."""
_STEP_S = 10.0
_LOOKS_EVERY_S = 60.0
_LOOKS_STEP_S = 60.0
_LOOKS_AHEAD_S = 4 * 3600.0
# What the heat needs is guessed: gas that falls short within this share beyond it is told all the same, and one that is
# told is taken back only beyond another tenth. The plan's own reserve; common practice, no source.
_RESERVE = 1.15
_TAKEN_BACK = 1.1
# A weight tells what the burner takes only where it is the difference of enough gas, kg, and within reason: a kitchen
# scale is good to 50 g. Own arithmetic.
_LEAST_WEIGHED_KG = 0.3
_PACES = (0.4, 2.5)
# No bottle stands hotter, °C; a probe that is silent for so long no longer tells, s. Common practice, no source.
_HOTTEST_C, _SEEN_FOR_S = 50.0, 60.0
# A bottle may be filled a little over what it is said to hold; beyond that somebody has read another scale.
_OVERFULL = 1.1


@dataclass(frozen=True, slots=True)
class Burning:
    """Gas the heat still needs: `kw` for `seconds`, None where nobody can say for how long."""

    seconds: float | None
    kw: float


@dataclass(frozen=True, slots=True)
class _Outlook:
    """What the look ahead at `at_s` (s) found: spare used up after `spare_s`, short after `short_s` (s, None: never).

    `left_kg` is what a bottle then holds, or at the end; `needed_s` how long gas is needed, None where nobody can say.
    """

    at_s: float
    spare_s: float | None = None
    short_s: float | None = None
    left_kg: float | None = None
    needed_s: float | None = None

    def is_needed(self, ahead_s: float, beyond: float = 1.0) -> bool:
        """Tell whether gas is still needed then, the reserve included."""
        return self.needed_s is None or ahead_s <= self.needed_s * _RESERVE * beyond


class BottleWatch:
    """Follows the bottles of one heat; those that feed together are taken for alike."""

    def __init__(self, supply: GasSupply) -> None:
        self._supply = supply
        self._bottle = BottleUnderWay(supply.bottle, supply.liquid_c)
        self._time_s: float | None = None
        self._kw = 0.0
        self._pace = 1.0
        self._looked: _Outlook | None = None
        self._burned_s = self._used_kg = 0.0
        self._lowest_bar = self._bottle.gauge_bar
        self._short_at_s: float | None = None
        self._changes = 0
        self._seen_s: float | None = None
        # Content by the last weight, None while it was not weighed, and what was taken since as reckoned, kg a bottle.
        self._weighed_kg = supply.bottle.content_kg if supply.weighed else None
        self._since_weighed_kg = 0.0
        self._by_weight_kg: float | None = None

    def feed(self, time_s: float, kw: float) -> bool:
        """Let the clock run to `time_s` (s, rising) at a burner power (kW); gives whether it is time to look ahead."""
        if self._time_s is None:
            self._time_s = time_s
        self._kw = kw
        while time_s - self._time_s >= _STEP_S:
            self._time_s += _STEP_S
            self._step(kw)
        return self._looked is None or time_s - self._looked.at_s >= _LOOKS_EVERY_S

    def look_ahead(self, time_s: float, needs: Sequence[Burning]) -> None:
        """Draw on the bottle through what the heat still needs and a reserve, and keep what comes of it."""
        ahead, passed_s = self._bottle.copy(), 0.0
        burning = [need for need in needs if need.kw > 0.0]
        known = [need.seconds for need in burning if need.seconds is not None]
        needed_s = sum(known) if len(known) == len(burning) else None
        spare_s: float | None = None
        left_kg: float | None = None
        for kw, until_s in _drawn(burning, needed_s):
            kg_per_s = self._kg_per_s(kw)
            while passed_s < until_s:
                ahead.step(_LOOKS_STEP_S, kg_per_s, self._supply.ambient_c)
                passed_s += _LOOKS_STEP_S
                if spare_s is None and self._is_short(ahead, SPARE_BAR):
                    spare_s = passed_s
                if self._is_short(ahead):
                    self._looked = _Outlook(time_s, spare_s, passed_s, ahead.content_kg, needed_s)
                    return
                if left_kg is None and needed_s is not None and passed_s >= needed_s:
                    left_kg = ahead.content_kg
        self._looked = _Outlook(time_s, spare_s, None, left_kg, needed_s)

    def finding(self, *, raised: bool) -> Finding | None:
        """Give that the gas comes to its end before the heat is done with it; `raised`: that has been told."""
        outlook = self._looked
        if outlook is None or outlook.spare_s is None or outlook.spare_s > RINGS_AHEAD_S:
            return None
        if not outlook.is_needed(outlook.spare_s, _TAKEN_BACK if raised else 1.0):
            return None
        state = self.state()
        if state.short_in_s is not None:
            what = f"is {_short_words(state)}, below the {state.needed_bar:g} bar the burner needs"
        else:
            what = (
                f"comes within {SPARE_BAR:g} bar of the {state.needed_bar:g} the burner needs before the heat is done"
            )
        how = "read by its probe" if state.liquid_seen else "reckoned by the burner's power"
        what = f"the bottle {what}: liquid {state.liquid_c:.0f} °C, {how}"
        return Finding(round(outlook.spare_s), round(RINGS_AHEAD_S), "s", what)

    def change(self) -> None:
        """A full bottle, as warm as the air, takes the place of each."""
        full = self._supply.bottle
        self._bottle = BottleUnderWay(full, self._supply.ambient_c)
        self._bottle.refill(full.full_kg)
        self._changes += 1
        self._weighed_kg, self._since_weighed_kg, self._by_weight_kg = None, 0.0, None
        self._looked = None

    def weigh(self, gross_kg: float) -> str:
        """Take what a bottle weighs now, kg, and say what came of it."""
        tare_kg, full_kg = self._supply.tare_kg, self._supply.bottle.full_kg
        if tare_kg is None:
            return "a weight tells nothing without the empty bottle's: [workshop] tare_kg"
        content_kg = gross_kg - tare_kg
        if not 0.0 <= content_kg <= _OVERFULL * full_kg:
            return f"{gross_kg:g} kg cannot be: a bottle weighs {tare_kg:g} to {tare_kg + full_kg:g} kg"
        reckoned_kg = self._bottle.content_kg
        if self._weighed_kg is not None:
            taken_kg = self._weighed_kg - content_kg
            self._by_weight_kg = (self._by_weight_kg or 0.0) + taken_kg
            if self._since_weighed_kg >= _LEAST_WEIGHED_KG and taken_kg >= _LEAST_WEIGHED_KG:
                pace = self._pace * taken_kg / self._since_weighed_kg
                self._pace = min(max(pace, _PACES[0]), _PACES[1])
        self._bottle.refill(content_kg)
        self._weighed_kg, self._since_weighed_kg = content_kg, 0.0
        self._looked = None
        return f"{content_kg:.1f} kg left by weight, {reckoned_kg:.1f} had been reckoned; reckoned on by the weight"

    def see_liquid(self, liquid_c: float) -> None:
        """Take the liquid's temperature (°C) from a probe on the wall at its height: no longer reckoned, but seen.

        Hotter than any bottle may be, it is no bottle's: the probe has fallen off, and it is reckoned on.
        """
        if liquid_c <= _HOTTEST_C:
            self._bottle.liquid_c = max(liquid_c, COLDEST_C)
            self._seen_s = self._time_s

    def state(self) -> GasState:
        """Give the gas as it is."""
        outlook, count = self._looked, self._supply.count
        short_s = left_kg = end_kg = None
        if outlook is not None and outlook.short_s is not None:
            short_s = outlook.short_s if outlook.is_needed(outlook.short_s) else None
            left_kg = None if short_s is None or outlook.left_kg is None else round(outlook.left_kg * count, 2)
        elif outlook is not None and outlook.left_kg is not None:
            end_kg = round(outlook.left_kg * count, 2)
        return GasState(
            bottles=count,
            left_kg=round(self._bottle.content_kg * count, 2),
            liquid_c=round(self._bottle.liquid_c, 1),
            gauge_bar=round(self._bottle.gauge_bar, 2),
            needed_bar=self._supply.needed_bar,
            kw=self._kw,
            short_in_s=short_s,
            short_left_kg=left_kg,
            end_left_kg=end_kg,
            liquid_seen=self._is_seen,
        )

    @property
    def _is_seen(self) -> bool:
        """Whether the liquid's temperature is read and not reckoned."""
        return self._time_s is not None and self._seen_s is not None and self._time_s <= self._seen_s + _SEEN_FOR_S

    def figures(self) -> GasFigures:
        """Give what the heat has taken so far."""
        count = self._supply.count
        return GasFigures(
            burned_s=self._burned_s,
            used_kg=round(self._used_kg * count, 2),
            left_kg=round(self._bottle.content_kg * count, 2),
            lowest_bar=round(self._lowest_bar, 2),
            changes=self._changes,
            weighed_kg=None if self._by_weight_kg is None else round(self._by_weight_kg * count, 2),
            short_at_s=self._short_at_s,
        )

    def _step(self, kw: float) -> None:
        bottle, kg_per_s = self._bottle, self._kg_per_s(kw)
        if bottle.liquid_c > COLDEST_C or kw == 0.0:
            before_kg = bottle.content_kg
            bottle.step(_STEP_S, kg_per_s, self._supply.ambient_c)
            self._used_kg += before_kg - bottle.content_kg
            self._since_weighed_kg += before_kg - bottle.content_kg
        if kw > 0.0:
            self._burned_s += _STEP_S
            self._lowest_bar = min(self._lowest_bar, bottle.gauge_bar)
            if self._short_at_s is None and self._is_short(bottle):
                self._short_at_s = self._time_s

    def _is_short(self, bottle: BottleUnderWay, spare_bar: float = 0.0) -> bool:
        if bottle.liquid_c <= COLDEST_C or bottle.content_kg <= 0.0:
            return True
        return bottle.gauge_bar < self._supply.needed_bar + spare_bar

    def _kg_per_s(self, kw: float) -> float:
        return self._pace * kw / self._supply.count / (NET_MJ_PER_KG * 1000.0)


def _drawn(burning: Sequence[Burning], needed_s: float | None) -> Iterator[tuple[float, float]]:
    """Give powers (kW) and until when each is drawn, s from now: the last with the reserve, endless ones for long."""
    until_s = 0.0
    for number, need in enumerate(burning):
        until_s = _LOOKS_AHEAD_S if need.seconds is None else until_s + need.seconds
        if number == len(burning) - 1 and needed_s is not None:
            until_s = needed_s * _RESERVE * _TAKEN_BACK
        yield need.kw, min(until_s, _LOOKS_AHEAD_S)


def _short_words(gas: GasState) -> str:
    short_s = gas.short_in_s or 0.0
    when = f"in about {format_duration(short_s)}" if short_s > _LOOKS_STEP_S else "now"
    return f"short {when} with {gas.short_left_kg or 0.0:.1f} kg left"


def gas_words(gas: GasState) -> str:
    """Say what is reckoned of the gas, and how long it lasts.

    >>> gas_words(GasState(1, 6.62, -8.4, 3.1, 1.0, 20.0, 2520.0, 6.1))
    'bottle 6.6 kg left, liquid -8 °C, 3.1 bar · short in about 42 min with 6.1 kg left'
    """
    bottles = "bottle" if gas.bottles == 1 else f"{gas.bottles} bottles"
    seen = " by its probe" if gas.liquid_seen else ""
    now = f"{bottles} {gas.left_kg:.1f} kg left, liquid {gas.liquid_c:.0f} °C{seen}, {gas.gauge_bar:.1f} bar"
    if gas.short_in_s is not None:
        return f"{now} · {_short_words(gas)}"
    if gas.end_left_kg is not None:
        return f"{now} · lasts, about {gas.end_left_kg:.1f} kg left at the end"
    return now
