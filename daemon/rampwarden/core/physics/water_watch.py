"""A drying pot's water by its heat balance, while it dries: pot and oven side by side, a course of minutes.

With the dry heat of this pot in this oven it can say that no water leaves any more; without one it says how much has
left, and no more. What is warm when it is first seen has no balance, nor has what stands elsewhere than its oven.
"""

from rampwarden.core.physics.water_balance import DryHeat, WaterGone, learn_dry_heat, taken_g, water_gone

_POINT_S = 60.0
_BEGINS_C, _ENDS_C = 30.0, 185.0
_LEARNS_C = 150.0
# So long a pot this hot must have lost no more than so much to be dry, s, °C, g: a tenth of what its oven gives at
# 90 K/h is 2 g then, and a wall that still holds water loses 40. Own arithmetic, on two model pots.
_DRY_FOR_S, _DRY_ABOVE_C, _DRY_G = 420.0, 112.0, 5.0
_WET_G = 60.0
# What is not known of a pot's capacity, of what is found: grams go with it.
_CAPACITY_OPEN = 0.12
# A pot that cools this far from its hottest is over with its drying, K.
_COOLS_K = 10.0


class WaterWatch:
    """Follows one drying. Public state is for reading only.

    `gone` is what has left so far, None while that cannot be told; `is_dry` whether none leaves any more; `is_over`
    whether the drying has been passed or left.
    """

    def __init__(self, pot_j_per_k: float, dry: DryHeat | None) -> None:
        self._pot_j_per_k, self._dry = pot_j_per_k, dry
        self._course: list[tuple[float, float, float]] = []
        self._sum_s = self._sum_pot_c = self._sum_oven_c = 0.0
        self._count = 0
        self._ends_s = 0.0
        self._highest_c = -1e9
        self.gone: WaterGone | None = None
        self.is_dry = self.is_over = False

    def stop(self) -> None:
        """One of the probes is not where it was: what was seen so far stands, and no more is added."""
        self.is_over = True

    def feed(self, time_s: float, pot_c: float, oven_c: float) -> bool:
        """Take a pair (s rising, °C); gives whether `gone` was worked out anew."""
        if self.is_over:
            return False
        if not self._count:
            self._ends_s = time_s + _POINT_S
        self._sum_s, self._count = self._sum_s + time_s, self._count + 1
        self._sum_pot_c, self._sum_oven_c = self._sum_pot_c + pot_c, self._sum_oven_c + oven_c
        if time_s < self._ends_s:
            return False
        count = self._count
        point = self._sum_s / count, self._sum_pot_c / count, self._sum_oven_c / count
        self._sum_s = self._sum_pot_c = self._sum_oven_c = 0.0
        self._count = 0
        return self._add(point)

    def learnt(self) -> DryHeat | None:
        """Give what this course shows of a pot that was dry; None where it cannot be fitted or did not get hot."""
        if self._highest_c < _LEARNS_C:
            return None
        dry = learn_dry_heat(self._course, self._pot_j_per_k)
        # A pot that was taken for dry and was not leaves more than any exchange explains.
        return None if dry is None or abs(dry.zero_g) > _WET_G else dry

    def _add(self, point: tuple[float, float, float]) -> bool:
        course = self._course
        if not course and point[1] > _BEGINS_C:
            self.is_over = True
            return False
        course.append(point)
        self._highest_c = max(self._highest_c, point[1])
        gone = water_gone(course, self._pot_j_per_k, self._dry)
        if gone is not None:
            open_g = _CAPACITY_OPEN * gone.grams
            self.gone = WaterGone(gone.grams, max(0.0, gone.low_g - open_g), gone.high_g + open_g)
            self.is_dry = self.is_dry or self._none_leaves(point)
        self.is_over = point[1] > _ENDS_C or point[1] < self._highest_c - _COOLS_K
        return gone is not None

    def _none_leaves(self, now: tuple[float, float, float]) -> bool:
        """Whether for some minutes, above the boiling point, its oven gave no more than the pot kept."""
        last = [each for each in self._course if each[0] >= now[0] - _DRY_FOR_S - _POINT_S]
        if self._dry is None or last[-1][0] - last[0][0] < _DRY_FOR_S or last[0][1] < _DRY_ABOVE_C:
            return False
        return abs(taken_g(last, self._pot_j_per_k, self._dry)) <= _DRY_G


def balance_words(gone: WaterGone | None) -> str:
    """Say how much has left by the heat balance.

    >>> balance_words(WaterGone(151.6, 116.0, 187.2))
    '152 g of water have left by the heat balance of pot and oven (116 to 187)'
    """
    if gone is None:
        return "the heat balance of pot and oven cannot be drawn"
    interval = f"({gone.low_g:.0f} to {gone.high_g:.0f})"
    return f"{gone.grams:.0f} g of water have left by the heat balance of pot and oven {interval}"
