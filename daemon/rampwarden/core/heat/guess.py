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
    """A length of time and its standard deviation, s."""

    best_s: float
    sd_s: float

    def after(self, gone_s: float) -> "Guess":
        """Give what is left of it when so much has passed."""
        return Guess(max(self.best_s - gone_s, 0.0), self.sd_s)

    def scaled(self, factor: float) -> "Guess":
        """Give it so many times longer."""
        return Guess(factor * self.best_s, factor * self.sd_s)

    @property
    def range_s(self) -> tuple[float, float]:
        """Where it lies nine times in ten, s: further out above than below, since nothing takes less than no time."""
        if self.best_s <= 0.0:
            return 0.0, _NINE_IN_TEN * self.sd_s
        width = _NINE_IN_TEN * min(self.sd_s / self.best_s, _WIDEST)
        return self.best_s * math.exp(-width), self.best_s * math.exp(width)


def relative(best_s: float, share: float, more_s: float = 0.0) -> Guess:
    """Give a guess that is wrong by about this share of it, and by some seconds whatever it is."""
    return Guess(best_s, math.hypot(share * best_s, more_s))


def total(guesses: Iterable[Guess]) -> Guess:
    """Give the sum of guesses whose errors have nothing to do with each other."""
    listed = list(guesses)
    return Guess(sum(each.best_s for each in listed), math.hypot(*(each.sd_s for each in listed)))


def mixed(guesses: Iterable[tuple[float, Guess]]) -> Guess | None:
    """Give the mean of guesses by their weights; where they differ is part of how unsure it is. None without weight."""
    listed = [(weight, each) for weight, each in guesses if weight > 0.0]
    whole = sum(weight for weight, _ in listed)
    if whole <= 0.0:
        return None
    mean_s = sum(weight * each.best_s for weight, each in listed) / whole
    squares = sum(weight * (each.sd_s**2 + (each.best_s - mean_s) ** 2) for weight, each in listed) / whole
    return Guess(mean_s, math.sqrt(squares))


def spread_of(logs: list[float], usual: float, worth: float = 2.0) -> tuple[float, float]:
    """Give mean and standard deviation of logarithms, the latter drawn towards what is usual while there are few.

    `worth` is how many of them the usual deviation counts for.
    """
    mean = sum(logs) / len(logs)
    squares = sum((each - mean) ** 2 for each in logs)
    return mean, math.sqrt((worth * usual**2 + squares) / (worth + len(logs) - 1))
