"""Tells what is wrong with the sensor, and since when its readings are worth nothing: composes the watches.

Every reading passes the two watches that need each one; the rest look at buckets of five seconds. What happens to the
heat is explained elsewhere; here stand facts about the sensor, which no explanation of the heat takes away. Where one
of them is read off a course (a lag off a lifted lid), it is told from outside when the course had another cause.
"""

from rampwarden.core.diagnosis.bucket_means import BucketMeter, TrendMeter
from rampwarden.core.diagnosis.foreign_plateau import AsOtherTypes, ForeignPlateauWatch
from rampwarden.core.diagnosis.probe_lag import NO_LID, SENSOR_LAGGING, LagWatch
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
from rampwarden.core.model import Bucket, Finding, Noise
from rampwarden.core.schedule import Schedule, SegmentKind

DIAGNOSES = (
    SENSOR_STUCK,
    SENSOR_REVERSED,
    SENSOR_NOISY,
    SENSOR_TYPE_SUSPECT,
    SENSOR_LAGGING,
    JUNCTION_RACING,
)


class Diagnosis:
    """Diagnoses the sensor over one whole heat."""

    def __init__(self, schedule: Schedule, as_other_types: AsOtherTypes) -> None:
        self._schedule = schedule
        self._buckets = BucketMeter()
        self._trend = TrendMeter()
        self._stuck = StuckWatch()
        self._sensor_noise = SensorNoiseWatch()
        self._reversed = ReversedWatch()
        self._junction = JunctionWatch()
        self._start = StartWatch()
        self._lag = LagWatch()
        self._plateau = ForeignPlateauWatch(as_other_types)
        self._kind: SegmentKind | None = None
        self._window_s: float | None = None
        self.doubted_since_s: float | None = None
        """Since when the reading has said nothing of the heat, s; None while it is believed. As of the last bucket."""

    @property
    def still_since_s(self) -> float | None:
        """Since when the reading has stood still, s, if for so long that it needs confirming; None if it moves."""
        return self._stuck.since_s if self._stuck.is_still else None

    @property
    def stands_since_s(self) -> float:
        """Since when the converter has given its present value, s."""
        return self._stuck.since_s

    def stillness_is_odd(self) -> bool:
        """Tell whether the present value has stood longer than the scatter of this sensor lets a value stand."""
        return self._stuck.is_odd

    @property
    def junction_c_per_s(self) -> float:
        """By how much the reference junction changes, °C/s."""
        return self._junction.c_per_s

    def enter(self, index: int | None) -> None:
        """Take note that segment `index` begins; None when the heat is over."""
        kind = None if index is None else self._schedule.segments[index].kind
        if kind is not self._kind:
            self._plateau.restart()
        self._kind = kind
        if index is not None:
            self._window_s = min((rate.window_s for rate in self._schedule.limits_in_force(index)), default=None)

    def resume(self) -> None:
        """Go on after a time nobody watched: no slope, pulse or plateau is drawn across it; what was learnt stays.

        Whatever follows the trend begins anew with it, since a young one has neither slope nor jump.
        """
        self._buckets.restart()
        self._trend.restart()
        self._plateau.restart()

    def feed(
        self,
        time_s: float,
        raw: float,
        temp_c: float,
        junction_c: float | None,
        noise: Noise,
        lids: tuple[float, float] = NO_LID,
    ) -> dict[str, Finding] | None:
        """Take a believed reading: what the converter gave (µV, or °C if it converted), temperature and junction (°C).

        `lids`: since when (s) a lid was lifted last, and when something else last explained the course. Gives the
        alarms' conditions that are present when a bucket is full, else None.
        """
        self._stuck.feed(time_s, raw)
        self._sensor_noise.add((time_s, temp_c))
        bucket = self._buckets.feed(time_s, temp_c, junction_c)
        return None if bucket is None else self._diagnose(bucket, noise, lids)

    def _diagnose(self, bucket: Bucket, noise: Noise, lids: tuple[float, float]) -> dict[str, Finding]:
        trend, kind = self._trend.feed(bucket, noise), self._kind
        heats = kind is not None and kind.heats
        if kind is SegmentKind.RAMP or kind is SegmentKind.COOL:
            self._plateau.feed(trend, noise, falling=kind is SegmentKind.COOL)
        judgements = (
            (SENSOR_STUCK.name, self._stuck.judge()),
            (SENSOR_REVERSED.name, self._reversed.feed(bucket, noise, heating=heats)),
            (SENSOR_NOISY.name, self._sensor_noise.judge(trend, noise.interval_s)),
            (SENSOR_TYPE_SUSPECT.name, self._start.feed(bucket) or self._plateau.finding),
            (SENSOR_LAGGING.name, self._lag.feed(trend, self._window_s, lids, in_place=heats)),
            (JUNCTION_RACING.name, self._junction.feed(bucket)),
        )
        found = {name: finding for name, finding in judgements if finding is not None}
        self.doubted_since_s = self._doubted_since_s(found) if found else None
        return found

    def _doubted_since_s(self, found: dict[str, Finding]) -> float | None:
        watches = (
            (SENSOR_STUCK.name, self._stuck.since_s),
            (SENSOR_REVERSED.name, self._reversed.since_s),
            (SENSOR_NOISY.name, self._sensor_noise.since_s),
        )
        return min((since_s for name, since_s in watches if name in found), default=None)
