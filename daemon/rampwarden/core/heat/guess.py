"""A guessed length of time that knows how unsure it is, and how such guesses add up. Knows nothing of heats."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

# Nine times in ten the truth lies within so many standard deviations.
_NINE_IN_TEN = 1.645
# Beyond this an interval says nothing any more: from a third to three times.
_WIDEST = 0.7


@dataclass(frozen=True, slots=True)
class Guess:
    """A length of time and its standard deviation, s; `late_s` is what more it may deviate upwards.

    More makes a heat late than early: a burner at its end, a person who closes in with care.
    """

    best_s: float
    sd_s: float
    late_s: float = 0.0

    def after(self, gone_s: float) -> "Guess":
        """Give what is left of it when so much has passed."""
        return Guess(max(self.best_s - gone_s, 0.0), self.sd_s, self.late_s)

    def scaled(self, factor: float) -> "Guess":
        """Give it so many times longer."""
        return Guess(factor * self.best_s, factor * self.sd_s, factor * self.late_s)

    @property
    def range_s(self) -> tuple[float, float]:
        """Where it lies nine times in ten, s: further out above than below, since nothing takes less than no time."""
        above_s = math.hypot(self.sd_s, self.late_s)
        if self.best_s <= 0.0:
            return 0.0, _NINE_IN_TEN * above_s
        below, above = (_NINE_IN_TEN * min(sd_s / self.best_s, _WIDEST) for sd_s in (self.sd_s, above_s))
        return self.best_s * math.exp(-below), self.best_s * math.exp(above)


def relative(best_s: float, share: float, more_s: float = 0.0) -> Guess:
    """Give a guess that is wrong by about this share of it, and by some seconds whatever it is."""
    return Guess(best_s, math.hypot(share * best_s, more_s))


def total(guesses: Iterable[Guess]) -> Guess:
    """Give the sum of guesses whose errors have nothing to do with each other."""
    listed = list(guesses)
    sd_s, late_s = (math.hypot(*sds) for sds in ([each.sd_s for each in listed], [each.late_s for each in listed]))
    return Guess(sum(each.best_s for each in listed), sd_s, late_s)


def mixed(guesses: Iterable[tuple[float, Guess]]) -> Guess | None:
    """Give the mean of guesses by their weights; where they differ is part of how unsure it is. None without weight."""
    listed = [(weight, each) for weight, each in guesses if weight > 0.0]
    whole = sum(weight for weight, _ in listed)
    if whole <= 0.0:
        return None
    mean_s = sum(weight * each.best_s for weight, each in listed) / whole
    squares = late_squares = 0.0
    for weight, each in listed:
        beside_s = each.best_s - mean_s
        squares += weight * (each.sd_s**2 + min(beside_s, 0.0) ** 2)
        late_squares += weight * (each.late_s**2 + max(beside_s, 0.0) ** 2)
    return Guess(mean_s, math.sqrt(squares / whole), math.sqrt(late_squares / whole))


def spread_of(logs: list[float], usual: float, worth: float = 2.0) -> tuple[float, float]:
    """Give mean and standard deviation of logarithms, the latter drawn towards what is usual while there are few.

    `worth` is how many of them the usual deviation counts for.
    """
    mean = sum(logs) / len(logs)
    squares = sum((each - mean) ** 2 for each in logs)
    return mean, math.sqrt((worth * usual**2 + squares) / (worth + len(logs) - 1))
