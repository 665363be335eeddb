"""A stuck sensor is told by its stillness, and only where stillness is no matter of chance."""

import random

import pytest

from rampwarden.core.diagnosis.sensor_stuck import StuckWatch


def stepped(value: float, step: float) -> float:
    return round(value / step) * step


class Converter:
    """Feeds a watch with values of given noise and step, one a second."""

    def __init__(self, sigma: float, step: float, seed: int = 1) -> None:
        self.watch = StuckWatch()
        self._dice = random.Random(seed)
        self._sigma, self._step = sigma, step
        self.time_s = 0.0
        self.value = 0.0

    def read(self, seconds: int, level: float = 1000.0, ramp: float = 0.0) -> bool:
        """Read for so long; tells whether the sensor was ever called stuck."""
        told = False
        for second in range(seconds):
            self.time_s += 1.0
            true = level + ramp * second
            self.value = stepped(true + self._dice.gauss(0.0, self._sigma), self._step)
            self.watch.feed(self.time_s, self.value)
            told = told or self.watch.judge() is not None
        return told

    def stick(self, seconds: int) -> float | None:
        """Repeat the last value; gives after how many seconds it was called stuck."""
        for second in range(seconds):
            self.time_s += 1.0
            self.watch.feed(self.time_s, self.value)
            if self.watch.judge() is not None:
                return second + 1.0
        return None


@pytest.mark.parametrize(("sigma", "step", "within_s"), [(3.0, 1.0, 65), (6.0, 10.0, 240), (13.0, 10.0, 70)])
def test_a_converter_that_repeats_itself_is_told_within_minutes(sigma: float, step: float, within_s: float) -> None:
    """After a minute with noise of several steps, later where a step is wider than the noise."""
    converter = Converter(sigma, step)
    assert not converter.read(900)
    told_s = converter.stick(600)
    assert told_s is not None
    assert 60 <= told_s <= within_s


@pytest.mark.parametrize("sigma", [1.0, 2.0, 3.0, 5.0])
def test_a_coarse_converter_on_a_quiet_furnace_is_never_called_stuck(sigma: float) -> None:
    """A step of 10 µV: at the edge between two codes it flutters, in the middle of one it stands for hours."""
    for seed in range(3):
        converter = Converter(sigma, 10.0, seed)
        assert not converter.read(1800, level=1005.0)  # on the edge
        assert not converter.read(7200, level=1010.0)  # amid a code


def test_a_ramp_in_clean_steps_has_no_noise_that_could_be_missed() -> None:
    """An electric furnace that climbs step by step and then holds dead still."""
    converter = Converter(0.0, 10.0)
    assert not converter.read(3600, ramp=0.7)
    assert converter.stick(3600) is None


def test_noise_that_has_ceased_for_long_is_no_longer_expected() -> None:
    """The flame went out hours ago; the cold furnace may stand still."""
    converter = Converter(12.0, 10.0)
    converter.read(600)
    assert not Converter.read(converter, 1)
    converter._sigma = 2.0
    for level in range(2000, 500, -1):  # cooling: a step every few seconds, hardly a jump
        converter.read(5, level=float(level))
    assert converter.stick(100) is None


def test_a_board_that_says_every_value_three_times_is_given_three_times_as_long() -> None:
    """A converter slower than its board: the share of jumps tells."""
    converter, dice = Converter(3.0, 1.0), random.Random(4)
    for _ in range(600):
        converter.value = stepped(dice.gauss(1000.0, 3.0), 1.0)
        assert converter.stick(3) is None
    told_s = converter.stick(300)
    assert told_s is not None
    assert told_s >= 60


def test_before_noise_was_seen_nothing_is_said() -> None:
    """A board that hangs from the first reading on says nothing of how it would scatter."""
    converter = Converter(3.0, 1.0)
    converter.read(5)
    assert converter.stick(3600) is None


def test_the_finding_says_for_how_long_and_what_to_doubt_and_ends_with_the_first_movement() -> None:
    """Board and sensor, not the heat."""
    converter = Converter(3.0, 1.0)
    converter.read(600)
    converter.stick(61)
    finding = converter.watch.judge()
    assert finding is not None
    assert finding.what == (
        "has not moved by one step for 1 min, where readings scattered before: doubt board and sensor first"
    )
    assert finding.value is not None
    assert 60.0 <= finding.value <= 62.0
    assert (finding.limit, finding.unit) == (60.0, "s")
    converter.read(1, level=990.0)
    assert converter.watch.judge() is None
    assert converter.watch.still_s == 0.0
