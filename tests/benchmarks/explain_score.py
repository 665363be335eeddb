"""What was said of a simulated heat, beside what was so: right, something else, silent; and the wrong statements.

A statement counts as right from the happening's beginning until half a minute after its end. Wrong is whatever the
row's rule does not name, at any time of the heat, and what it names long before or after. "Gas, or turned down" after
a hand has turned the flame down by a quarter within the last twelve minutes stands in a column of its own.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.furnaces.story import RULES, Row, Said, SimulatedHeat

BEFORE_S, GRACE_S, AFTERMATH_S = 10.0, 30.0, 420.0
_TURNED = 0.75
_TURNED_WITHIN_S = 720

Told = tuple[float, Said]


@dataclass(frozen=True)
class Score:
    """One heat: `outcome` is "right", "else" or "silent", `delay_s` of the right statement, `wrong` those that were."""

    outcome: str
    delay_s: float | None
    wrong: tuple[Told, ...]
    turned: int


def score(heat: SimulatedHeat, told: Sequence[Told]) -> Score:
    """Score one heat by what was told, each with its time, s."""
    rule = RULES[heat.row]
    began = heat.truth.began_s if heat.truth.began_s is not None else math.inf
    ended = heat.truth.ended_s if heat.truth.ended_s is not None else math.inf
    outcome, delay_s, turned = "silent", None, 0
    wrong = []
    for at_s, said in told:
        inside = began - BEFORE_S <= at_s <= ended + AFTERMATH_S
        if said in rule.right and inside:
            if delay_s is None and at_s <= ended + GRACE_S:
                outcome, delay_s = "right", at_s - began
            continue
        if said in rule.fine and inside:
            continue
        if said in (Said.FADING, Said.SAG) and _was_turned_down(heat, at_s):
            turned += 1
            continue
        wrong.append((at_s, said))
        if outcome == "silent" and began <= at_s <= ended + GRACE_S:
            outcome = "else"
    return Score(outcome, delay_s, tuple(wrong), turned)


def _was_turned_down(heat: SimulatedHeat, at_s: float) -> bool:
    """Whether a hand has turned the flame down by a quarter of itself not long before."""
    second = min(int(at_s), len(heat.valve) - 1)
    before = heat.valve[max(0, second - _TURNED_WITHIN_S) : second]
    if len(before) < 10:
        return False
    return bool(np.mean(before[-10:]) < _TURNED * np.percentile(before, 90))


def share_interval(hits: int, count: int) -> tuple[float, float]:
    """Give the 95 % interval of a share (Wilson, J. Am. Stat. Assoc. 22, 209, 1927), in %."""
    if not count:
        return 0.0, 100.0
    z = 1.96
    middle = (hits + z * z / 2.0) / (count + z * z)
    half = z * math.sqrt(hits * (count - hits) / count + z * z / 4.0) / (count + z * z)
    return 100.0 * max(0.0, middle - half), 100.0 * min(1.0, middle + half)


def mean_interval(counts: Sequence[int]) -> tuple[float, float]:
    """Give the 95 % interval of a mean count a heat; of none in n heats the upper end is 3.7 / n."""
    values = np.asarray(counts, float)
    if not values.any():
        return 0.0, 3.7 / len(values)
    half = 1.96 * float(values.std(ddof=min(1, len(values) - 1))) / math.sqrt(len(values))
    return max(0.0, float(values.mean()) - half), float(values.mean()) + half


@dataclass(frozen=True)
class RowFigures:
    """A row's figures over its heats."""

    row: Row
    scores: tuple[Score, ...]

    def line(self) -> str:
        """Give a line of the table."""
        scores, count = self.scores, len(self.scores)
        share = {name: sum(one.outcome == name for one in scores) for name in ("right", "else", "silent")}
        delays = [one.delay_s for one in scores if one.delay_s is not None]
        late = f"{np.median(delays):4.0f}/{np.percentile(delays, 95):4.0f}" if delays else "   –/   –"
        wrong = [len(one.wrong) for one in scores]
        low, high = mean_interval(wrong)
        if RULES[self.row].right:
            least, most = share_interval(share["right"], count)
            shares = "/".join(f"{100.0 * share[name] / count:3.0f}" for name in share) + f" ({least:3.0f}–{most:3.0f})"
        else:
            shares, late = f"{100.0 * sum(map(bool, wrong)) / count:3.0f} % told of", "         "
        turned = sum(one.turned for one in scores) / count
        return f"{shares:24} {late} {np.mean(wrong):5.2f} ({low:.2f}–{high:.2f}) {turned:5.2f}"
