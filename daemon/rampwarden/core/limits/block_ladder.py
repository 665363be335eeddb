"""Block means of readings, each length twice the one before, and how far they are off a straight line.

What a stream of readings scatters by shows in the second differences of its block means: `noise_meter` reads it from
them. Each reading is passed up through the lengths as far as it completes blocks, so each length is served half as
often as the one before.

A reading that is missing leaves its place empty: a block is the mean of what is there. Were its place taken by the next
one, every block after it would be cut elsewhere, and a single bad frame would change all that is known of a young fire.
"""

_QUANTUM_C2 = 0.01  # one step of 0.1 °C may always count in full, however still the signal was
_CLIP = 9.0
"""A squared second difference counts for at most this many variances: a corner or a lid is not noise."""
_SHORT_CLIP = 2.0
"""A squared second difference counts there for at most this many variances; up to 37 % may be bends."""
_SHORT_KEPT = 0.743
"""What that clip leaves of the variance of normal noise: E[min(x², 2)] for x of unit variance."""
_SHORT_YOUNG = 4
"""Second differences that the prior counts for there: one that is nought by chance must not be believed alone, since
a small variance grows slowly under the clip."""

_NO_HALF, _ONE_HALF, _EMPTY_HALF = 0, 1, 2  # of the pair in the making: nothing yet, its first half, a missing one


class BlockLength:
    """Blocks of one length: the last two means with their times, the half-made pair, and the variances seen."""

    __slots__ = (
        "count",
        "fast_c2",
        "half_c",
        "half_s",
        "halves",
        "known",
        "last_c",
        "last_s",
        "past_c",
        "past_s",
        "short_c2",
        "slow_c2",
    )

    def __init__(self, variance_c2: float) -> None:
        self.slow_c2 = variance_c2
        self.short_c2 = variance_c2
        self.fast_c2 = variance_c2
        self.count = 0
        self.forget_blocks()

    def forget_blocks(self) -> None:
        """Begin blocks anew; the variances seen stay."""
        self.known = 0
        self.halves = _NO_HALF
        self.half_s = self.half_c = 0.0
        self.last_s = self.last_c = 0.0
        self.past_s = self.past_c = 0.0


Rung = tuple[BlockLength, float, float, bool]
"""A length, the gains of its slow and its fast memory, and whether it has a part in the account of short blocks."""


class BlockLadder:
    """The lengths, shortest first; `rungs` is for reading only."""

    def __init__(self, rungs: list[Rung]) -> None:
        self.rungs = rungs

    def add(self, time_s: float, temp_c: float, from_length: int = 0) -> None:
        """Pass a reading (s, °C) up through the lengths as far as it completes blocks; or a mean from its length on."""
        clip = _CLIP
        for length, slow_gain, fast_gain, is_short in self.rungs[from_length:] if from_length else self.rungs:
            if length.known == 2:
                last_s = length.last_s
                last_c = length.last_c
                ratio = (time_s - last_s) / (last_s - length.past_s)
                bend_c = temp_c - last_c - ratio * (last_c - length.past_c)
                # Uneven steps weigh the three means unevenly; brought to the variance of even ones.
                square = 6.0 * bend_c * bend_c / (2.0 * (1.0 + ratio + ratio * ratio))
                count = length.count = length.count + 1
                slow = length.slow_c2
                most = clip * slow + _QUANTUM_C2
                gain = 1.0 / count
                length.slow_c2 = slow + (gain if gain > slow_gain else slow_gain) * (
                    (square if square < most else most) - slow
                )
                if is_short:
                    short = length.short_c2
                    most = _SHORT_CLIP * short + _QUANTUM_C2
                    gain = 1.0 / (count + _SHORT_YOUNG)
                    length.short_c2 = short + (gain if gain > slow_gain else slow_gain) * (
                        (square if square < most else most) / _SHORT_KEPT - short
                    )
                if fast_gain > 0.0:
                    fast = length.fast_c2
                    most = clip * fast + _QUANTUM_C2
                    gain = 1.0 / count  # else what was assumed at first stays in it, and the present looks rough
                    length.fast_c2 = fast + (gain if gain > fast_gain else fast_gain) * (
                        (square if square < most else most) - fast
                    )
                length.past_s = last_s
                length.past_c = last_c
            else:
                length.known += 1
                length.past_s = length.last_s
                length.past_c = length.last_c
            length.last_s = time_s
            length.last_c = temp_c
            half = length.halves
            if half == _NO_HALF:
                length.halves = _ONE_HALF
                length.half_s = time_s
                length.half_c = temp_c
                return
            length.halves = _NO_HALF
            if half == _ONE_HALF:
                time_s = 0.5 * (time_s + length.half_s)
                temp_c = 0.5 * (temp_c + length.half_c)

    def leave_empty(self) -> None:
        """Pass over one reading: a pair that lacks one half is the other half alone."""
        for number, (length, _, _, _) in enumerate(self.rungs):
            if length.halves == _NO_HALF:
                length.halves = _EMPTY_HALF
                return
            whole, length.halves = length.halves, _NO_HALF
            if whole == _ONE_HALF:
                self.add(length.half_s, length.half_c, number + 1)
                return
