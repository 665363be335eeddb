"""The course of the last minute: a quadratic with a fading memory, and by how much buckets leave it.

N. Morrison, Introduction to Sequential Smoothing and Prediction (McGraw-Hill 1969), the fading-memory polynomial of
degree two: three gains, no matrix. Knows nothing of what a deviation may mean.
"""

_THETA = 0.68
"""Memory: a bucket of a minute ago weighs a hundredth. Longer is quieter and follows a burner too late."""
_GAIN_LEVEL = 1.0 - _THETA**3
_GAIN_SLOPE = 1.5 * (1.0 - _THETA) ** 2 * (1.0 + _THETA)
_GAIN_BEND = (1.0 - _THETA) ** 3
_SPACING_S = 5.0
_YOUNG = 12
"""Buckets until the course is one."""
_SCATTER = 1.0 / 24.0
"""Share of the newest deviation in the learnt one: two minutes."""
_CLIP = 6.0
"""A deviation counts for so many times the learnt variance at most: one jump put it up for half an hour."""
_LEAST_C2 = 0.002


class FadingCourse:
    """Level, slope and bend at the newest bucket. Public state is for reading only."""

    __slots__ = ("c_per_s", "c_per_s2", "count", "level_c", "scatter_c2", "time_s")

    def __init__(self) -> None:
        self.scatter_c2 = 0.25
        """Learnt variance of one-step deviations, °C²; it outlives a restart."""
        self.restart()

    def restart(self) -> None:
        """Forget the course, not the noise."""
        self.count = 0
        self.time_s = self.level_c = self.c_per_s = self.c_per_s2 = 0.0

    def feed(self, time_s: float, temp_c: float, *, learn: bool) -> float:
        """Take a bucket; gives by how much it leaves the course, °C. `learn` its scatter unless something is up."""
        count = self.count
        self.count = count + 1
        if not count:
            self.time_s, self.level_c = time_s, temp_c
            return 0.0
        step_s = time_s - self.time_s
        self.time_s = time_s
        slope = self.c_per_s + self.c_per_s2 * step_s
        level_c = self.level_c + (self.c_per_s + 0.5 * self.c_per_s2 * step_s) * step_s
        off_c = temp_c - level_c
        if count < _YOUNG:
            # Growing memory first: gains of the expanding line, so that a start is no deviation.
            gain = 2.0 * (2.0 * count + 1.0) / ((count + 1.0) * (count + 2.0))
            self.level_c = level_c + max(gain, _GAIN_LEVEL) * off_c
            self.c_per_s = slope + max(6.0 / ((count + 1.0) * (count + 2.0)), _GAIN_SLOPE) * off_c / _SPACING_S
        else:
            self.level_c = level_c + _GAIN_LEVEL * off_c
            self.c_per_s = slope + _GAIN_SLOPE * off_c / _SPACING_S
            self.c_per_s2 += _GAIN_BEND * off_c / (_SPACING_S * _SPACING_S)
            if learn:
                scatter_c2 = self.scatter_c2
                square_c2 = off_c * off_c
                most_c2 = _CLIP * scatter_c2
                self.scatter_c2 = max(
                    scatter_c2 + _SCATTER * ((square_c2 if square_c2 < most_c2 else most_c2) - scatter_c2), _LEAST_C2
                )
        return off_c

    @property
    def is_known(self) -> bool:
        """Whether there have been buckets enough for a course."""
        return self.count > _YOUNG
