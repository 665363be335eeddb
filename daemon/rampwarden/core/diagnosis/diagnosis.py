"""Tells a failing sensor from a failing heat: composes the diagnoses and decides which of them make sense now.

Every reading passes the two watches that need each one; the rest look at buckets of five seconds. What a segment plans
(cooling, a transfer) and what a person has marked (`lid-open`, `charged` …) decides here what may be said, and nowhere
else: the watches know neither. A mark explains a change for a while; it never silences another alarm.
"""

import math
from collections.abc import Callable, Iterable

from msgspec import Struct

from rampwarden.core.diagnosis.bucket_means import BucketMeter, TrendMeter
from rampwarden.core.diagnosis.flame import FLAME_OUT, FlameWatch
from rampwarden.core.diagnosis.furnace_events import FREEZING_POINTS_C, LidWatch, Plateau, PlateauWatch, plateau_text
from rampwarden.core.diagnosis.heat_failing import HEAT_FAILING, Aim, FailingWatch
from rampwarden.core.diagnosis.probe_lag import SENSOR_LAGGING, LagWatch
from rampwarden.core.diagnosis.sensor_noise import SENSOR_NOISY, SensorNoiseWatch
from rampwarden.core.diagnosis.sensor_plausibility import (
    JUNCTION_RACING,
    SENSOR_REVERSED,
    SENSOR_TYPE_SUSPECT,
    JunctionWatch,
    ReversedWatch,
    StartWatch,
)
from rampwarden.core.diagnosis.sensor_stuck import SENSOR_STUCK, StuckWatch
from rampwarden.core.model import Bucket, Finding, Noise, Trend, mark_name
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

SENSOR_DIAGNOSES = (
    SENSOR_STUCK,
    SENSOR_REVERSED,
    SENSOR_NOISY,
    SENSOR_TYPE_SUSPECT,
    SENSOR_LAGGING,
    JUNCTION_RACING,
)
HEAT_DIAGNOSES = (HEAT_FAILING, FLAME_OUT)
DIAGNOSES = (*SENSOR_DIAGNOSES, *HEAT_DIAGNOSES)
_DOUBTING = frozenset((SENSOR_STUCK.name, SENSOR_REVERSED.name, SENSOR_NOISY.name))
"""While one of these stands the reading says nothing of the heat."""
_HEATING = (SegmentKind.RAMP, SegmentKind.SOAK)

EXPLAINING_MARKS_S = {
    "lid-open": 120.0,
    "lid-closed": 120.0,
    "charged": 180.0,
    "bottle-changed": 180.0,
    "flame-out": 600.0,
    "transfer": 120.0,
    "arrived": 120.0,
}
"""Marks that explain a change of temperature, and for how long, s: common practice, no source."""
_DOUBT_S = 300.0
"""s. So long after the sensor was in doubt its readings are not interpreted: the trend must be its own again."""
_STILL_S = 15.0
"""s. A reading that has stood still for three buckets may be stuck: no flame's end is read from it."""
_CLOSING_IN_S = 900.0
"""s. A target that is farther at the present slope is not being closed in on."""
_LID_OPEN_S = 600.0
"""s. Nobody leaves a lid off for longer; a mark that it is shut again was forgotten then."""
_MIXED_UP_WITHIN_C = 6.0
"""°C. So near another type must put a plateau to a metal's point: a new class 2 wire at the copper point."""


AsOtherTypes = Callable[[float], Iterable[tuple[str, float]]]
"""What a temperature (°C) would be had its voltage come from another type of thermocouple: letter and °C of each."""


class Diagnosed(Struct, frozen=True):
    """What the diagnoses say of one bucket: alarm conditions present, and messages."""

    found: dict[str, Finding]
    observed: tuple[str, ...]


class Diagnosis:
    """Diagnoses sensor and heat over one whole heat."""

    def __init__(self, schedule: Schedule, as_other_types: AsOtherTypes) -> None:
        self._schedule = schedule
        self._as_other_types = as_other_types
        self._buckets = BucketMeter()
        self._trend = TrendMeter()
        self._stuck = StuckWatch()
        self._sensor_noise = SensorNoiseWatch()
        self._reversed = ReversedWatch()
        self._junction = JunctionWatch()
        self._start = StartWatch()
        self._lag = LagWatch()
        self._failing = FailingWatch()
        self._flame = FlameWatch()
        self._lid = LidWatch()
        self._plateau = PlateauWatch()
        self._type_finding: Finding | None = None
        self._segment: Segment | None = None
        self._window_s: float | None = None
        self._target_c = 0.0
        self._excused_until_s = -math.inf
        self._lid_open_until_s = -math.inf
        self._doubted_until_s = -math.inf
        self.doubted_since_s: float | None = None
        """Since when the reading has said nothing of the heat, s; None while it is believed. As of the last bucket."""

    @property
    def still_since_s(self) -> float | None:
        """Since when the reading has stood still, s, if for so long that it needs confirming; None if it moves."""
        return self._stuck.since_s if self._stuck.is_still else None

    @property
    def junction_c_per_s(self) -> float:
        """By how much the reference junction changes, °C/s."""
        return self._junction.c_per_s

    def enter(self, index: int | None) -> None:
        """Take note that segment `index` begins; None when the heat is over."""
        before, segment = self._segment, None if index is None else self._schedule.segments[index]
        self._segment = segment
        self._failing.restart()
        if index is None or segment is None:
            return
        self._window_s = min((rate.window_s for rate in self._schedule.limits_in_force(index)), default=None)
        if segment.kind is SegmentKind.RAMP:
            self._target_c = self._schedule.end_of_ramp_c(index)
        elif segment.at_c is not None:
            self._target_c = segment.at_c
        if before is None or before.kind is not segment.kind:
            self._plateau.restart()
        if before is not None and before.kind is SegmentKind.TRANSFER:
            self._flame.restart()

    def resume(self) -> None:
        """Go on after a time nobody watched: no slope, pulse or plateau is drawn across it; what was learnt stays.

        Whatever follows the trend begins anew with it, since a young one has neither slope nor jump.
        """
        self._buckets.restart()
        self._trend = TrendMeter()
        self._set_heat_aside()

    def mark(self, time_s: float, text: str) -> None:
        """Take note of a person's mark."""
        name = mark_name(text)
        explained_s = EXPLAINING_MARKS_S.get(name)
        if explained_s is None:
            return
        self._excused_until_s = max(self._excused_until_s, time_s + explained_s)
        self._failing.restart()
        if name == "lid-open":
            self._lid_open_until_s = time_s + _LID_OPEN_S
        elif name == "lid-closed":
            self._lid_open_until_s = min(self._lid_open_until_s, time_s + explained_s)

    def feed(
        self, time_s: float, raw: float, temp_c: float, junction_c: float | None, noise: Noise
    ) -> Diagnosed | None:
        """Take a believed reading: what the converter gave (µV, or °C if it converted), temperature and junction (°C).

        Gives a diagnosis when a bucket is full, else None.
        """
        self._stuck.feed(time_s, raw)
        self._sensor_noise.add((time_s, temp_c))
        bucket = self._buckets.feed(time_s, temp_c, junction_c)
        return None if bucket is None else self._diagnose(bucket, noise)

    def _diagnose(self, bucket: Bucket, noise: Noise) -> Diagnosed:
        trend = self._trend.feed(bucket, noise)
        kind = self._segment.kind if self._segment is not None else None
        found = self._judge_sensor(bucket, trend, noise, heats=kind in _HEATING)
        self.doubted_since_s = self._doubted_since_s(found) if found else None
        if found and not _DOUBTING.isdisjoint(found):
            self._doubted_until_s = bucket.time_s + _DOUBT_S
        observed: tuple[str, ...] = ()
        if bucket.time_s < self._doubted_until_s:
            self._set_heat_aside()
        elif kind is not None:
            flame_out = self._judge_flame(trend, kind)
            if flame_out is not None:
                found[FLAME_OUT.name] = flame_out
            failing = self._judge_failing(trend, noise, kind)
            if failing is not None:
                found[HEAT_FAILING.name] = failing
            observed = self._observe(trend, noise, kind, steady=flame_out is None and failing is None)
        return Diagnosed(found, observed)

    def _judge_sensor(self, bucket: Bucket, trend: Trend, noise: Noise, *, heats: bool) -> dict[str, Finding]:
        judgements = (
            (SENSOR_STUCK.name, self._stuck.judge()),
            (SENSOR_REVERSED.name, self._reversed.feed(bucket, noise, heating=heats)),
            (SENSOR_NOISY.name, self._sensor_noise.judge(trend, noise.interval_s)),
            (SENSOR_TYPE_SUSPECT.name, self._start.feed(bucket) or self._type_finding),
            (SENSOR_LAGGING.name, self._lag.feed(trend, self._window_s, in_place=heats)),
            (JUNCTION_RACING.name, self._junction.feed(bucket)),
        )
        return {name: finding for name, finding in judgements if finding is not None}

    def _doubted_since_s(self, found: dict[str, Finding]) -> float | None:
        watches = (
            (SENSOR_STUCK.name, self._stuck.since_s),
            (SENSOR_REVERSED.name, self._reversed.since_s),
            (SENSOR_NOISY.name, self._sensor_noise.since_s),
        )
        return min((since_s for name, since_s in watches if name in found), default=None)

    def _set_heat_aside(self) -> None:
        self._failing.restart()
        self._flame.set_aside()
        self._lid.restart()
        self._plateau.restart()

    def _judge_failing(self, trend: Trend, noise: Noise, kind: SegmentKind) -> Finding | None:
        lowest_c = self._target_c
        aim = Aim.CLIMB if kind is SegmentKind.RAMP else Aim.NOTHING
        if kind is SegmentKind.SOAK and self._segment is not None:
            lowest_c, aim = self._segment.lowest_c, Aim.HOLD
        return self._failing.feed(trend, noise, aim, self._target_c, lowest_c)

    def _judge_flame(self, trend: Trend, kind: SegmentKind) -> Finding | None:
        if kind not in _HEATING:
            self._flame.set_aside()
            return None
        slope = trend.now_c_per_s
        # Nearer than a quarter of an hour somebody may be closing in on the target.
        far = slope is not None and self._target_c - trend.temp_c > _CLOSING_IN_S * slope
        too_hot = kind is SegmentKind.SOAK and trend.temp_c > self._target_c
        return self._flame.feed(
            trend,
            climb_expected=kind is SegmentKind.RAMP and far,
            fall_expected=too_hot or trend.time_s < self._lid_open_until_s,
            excused=trend.time_s < self._excused_until_s or self._stuck.still_s >= _STILL_S,
        )

    def _observe(self, trend: Trend, noise: Noise, kind: SegmentKind, *, steady: bool) -> tuple[str, ...]:
        """Give what happens besides the plan; a plateau is one only in a heat that is `steady` otherwise."""
        lid = melt = ""
        if kind in _HEATING:
            lid = self._lid.feed(trend, told=trend.time_s < self._excused_until_s)
        else:
            self._lid.restart()
        if lid or not steady:
            self._plateau.restart()
        elif kind is SegmentKind.RAMP or kind is SegmentKind.COOL:
            plateau = self._plateau.feed(trend, noise, falling=kind is SegmentKind.COOL)
            melt = self._name(plateau) if plateau is not None else ""
        return tuple(text for text in (lid, melt) if text) if lid or melt else ()

    def _name(self, plateau: Plateau) -> str:
        """Name the metal of a plateau; if there is none, see whether another type of thermocouple would make one."""
        text = plateau_text(plateau)
        if text:
            return text
        fits = self._other_types(plateau.temp_c)
        if fits:
            would = ", ".join(f"as type {letter} it would be {metal}'s" for letter, metal in fits)
            letters = " or ".join(letter for letter, _ in fits)
            what = (
                f"a plateau at {plateau.temp_c:.0f} °C, where no pure metal has one; {would}: "
                f"possibly the probe is of type {letters}"
            )
            self._type_finding = Finding(round(plateau.temp_c, 1), None, "°C", what)
        return ""

    def _other_types(self, temp_c: float) -> list[tuple[str, str]]:
        """Give the types under which this reading would be a pure metal's point, each with its metal."""
        fits = []
        for letter, other_c in self._as_other_types(temp_c):
            metals = [
                metal for metal, point_c in FREEZING_POINTS_C.items() if abs(other_c - point_c) <= _MIXED_UP_WITHIN_C
            ]
            if metals:
                fits.append((letter, metals[0]))
        return fits
