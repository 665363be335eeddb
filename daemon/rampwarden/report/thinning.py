"""A course thinned out as it grows: means over ever longer spans that keep their extremes."""

from dataclasses import dataclass

MOST_SAMPLES = 3000
"""As many as the columns of a printed page at 300 dpi: more would be drawn on top of one another."""


@dataclass(slots=True)
class CourseSample:
    """A span of believed readings: their extremes and mean (°C), and ramp and soak clock as they stood at its end."""

    from_s: float
    to_s: float
    low_c: float
    high_c: float
    mean_c: float
    count: int
    ramp_c_per_s: float | None = None
    soaked_s: float = 0.0

    def join(self, later: "CourseSample") -> None:
        """Take in the span after this one."""
        count = self.count + later.count
        self.mean_c += (later.mean_c - self.mean_c) * later.count / count
        self.count = count
        self.to_s = later.to_s
        self.low_c, self.high_c = min(self.low_c, later.low_c), max(self.high_c, later.high_c)
        self.ramp_c_per_s, self.soaked_s = later.ramp_c_per_s, later.soaked_s


class Thinning:
    """Keeps at most `MOST_SAMPLES` of a course; `samples` are for reading."""

    def __init__(self) -> None:
        self.samples: list[CourseSample] = []
        self._span_s = 1.0

    def keep(self, time_s: float, temp_c: float) -> bool:
        """Take a reading (s, °C); tells whether it began a sample, which is then the last one or joined to it."""
        sample, samples = CourseSample(time_s, time_s, temp_c, temp_c, temp_c, 1), self.samples
        if samples and time_s - samples[-1].from_s < self._span_s:
            last = samples[-1]
            sample.ramp_c_per_s, sample.soaked_s = last.ramp_c_per_s, last.soaked_s
            last.join(sample)
            return False
        samples.append(sample)
        if len(samples) > MOST_SAMPLES:
            self._thin_out()
        return True

    def _thin_out(self) -> None:
        """Double the span, joining what then falls into one."""
        self._span_s *= 2.0
        thinned = self.samples[:1]
        for sample in self.samples[1:]:
            if sample.to_s - thinned[-1].from_s < self._span_s:
                thinned[-1].join(sample)
            else:
                thinned.append(sample)
        self.samples = thinned
