"""Whether the account of a pot is ever better than the truth: whole heats of the model furnace, each mishap in turn.

Frames of the model heat go straight into decoder and monitor. Beside what the account claims stands what truly befell
the pot: the model knows its temperature, whatever the probe said. A claim is better than the truth when it says of help
that did not happen that it did, or of harm that happened that it did not. A sound heat that is to be inspected without
a cause that truly happened is as much a failure. Then the accounts of the recorded cases, of which nobody knows the
truth. Run by `make bench-account`; exits 1 if any account failed.

    python tests/benchmarks/account_truth.py [--seeds 2] [--only stuck] [--full]

The truth is judged with the uncertainty that the watch states (k = 2) in the account's favour, and a limit counts as
broken when the pot passed it by a tenth for a minute: a temperature nobody could have told from the true one is no lie.
"""

import argparse
import math
import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from rampwarden.core.instrument.framing import FrameDecoder
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import (
    Claim,
    ClaimDoubt,
    ClaimName,
    ClaimShown,
    PotAccount,
    Readiness,
    Ready,
    account_sentences,
    readiness_sentence,
    reason_sentences,
    working_soak,
)
from rampwarden.core.pot.drying import drying_per_s
from rampwarden.core.pot_keeper import segment_facts
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay
from rampwarden.schedule_files import read_schedule
from rampwarden.sources.board_model import NoiseClass, Wiring
from rampwarden.sources.furnace_faults import FaultName, FaultPlace
from rampwarden.sources.rehearsal_board import ModelHeat

REPOSITORY = Path(__file__).resolve().parents[2]
SCHEDULES = REPOSITORY / "config" / "schedules"
CASES = REPOSITORY / "replay_logs"

_RED_HEAT_C, _HOT_C = 650.0, 300.0
_BROKEN_BY = 1.1
_BROKEN_FOR_S = 60.0
_SHORT = {ClaimShown.SHOWN: "shown", ClaimShown.IN_DOUBT: "doubt", ClaimShown.NOT_SHOWN: "not"}
_COLUMNS = {
    ClaimName.DRIED: "dried",
    ClaimName.FIRED: "fired",
    ClaimName.SOAKED: "soaked",
    ClaimName.COOLING_SEEN: "cold",
    ClaimName.OVERHEATED: "overheat",
    ClaimName.CLIMBED_WHILE_WET: "wet climb",
    ClaimName.CLIMBED_TOO_FAST: "climb",
    ClaimName.COOLED_TOO_FAST: "cooled",
}
_CLIMBS = (ClaimName.CLIMBED_WHILE_WET, ClaimName.CLIMBED_TOO_FAST)


class Window:
    """How far the pot rose within a sliding window, at most; the lowest temperature is kept by a falling queue."""

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        self._lowest: deque[tuple[float, float]] = deque()

    def rise_c(self, time_s: float, temp_c: float) -> float:
        """Give the rise to this temperature from the lowest of the window, °C."""
        lowest = self._lowest
        while lowest and lowest[-1][1] >= temp_c:
            lowest.pop()
        lowest.append((time_s, temp_c))
        while lowest[0][0] < time_s - self._window_s:
            lowest.popleft()
        return temp_c - lowest[0][1]


@dataclass
class Truth:
    """What truly befell the pot, by the model's own temperatures; times in s, temperatures in °C."""

    schedule: Schedule
    drying: float = 0.0
    fired_s: float = 0.0
    soaked_s: float = 0.0
    over_s: float = 0.0
    climbed_s: float = 0.0
    cooled_s: float = 0.0
    peak_c: float = -math.inf
    end_c: float = 0.0
    _index: int = -1
    _windows: list[tuple[float, Window]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._facts = segment_facts(self.schedule)
        self._soak = working_soak(self._facts)

    def follow(self, heat: ModelHeat, seconds: float, expanded_c: float) -> None:
        """Take the state of the model after a step of `seconds`, with `expanded_c` (± °C) in the account's favour."""
        pot_c = heat.furnace.pot_c
        self.end_c, self.peak_c = pot_c, max(self.peak_c, pot_c)
        if heat.operator.complete:
            return
        index = heat.operator.index
        segment, facts = self.schedule.segments[index], self._facts[index]
        if self.peak_c - expanded_c <= _HOT_C:
            self.drying += seconds * drying_per_s(pot_c + expanded_c)
        if facts.in_furnace and pot_c + expanded_c >= _RED_HEAT_C:
            self.fired_s += seconds
        soak = None if self._soak is None else self.schedule.segments[self._soak.number - 1]
        if soak is not None and soak.lowest_c - expanded_c <= pot_c <= soak.highest_c + expanded_c:
            self.soaked_s += seconds
        if segment.ceiling_c is not None and pot_c > segment.ceiling_c + expanded_c:
            self.over_s += seconds
        if index != self._index:
            self._index = index
            self._windows = [(each.climb_c, Window(each.window_s)) for each in self.schedule.limits_in_force(index)]
        falls = segment.kind is SegmentKind.COOL
        level_c = -pot_c if falls else pot_c
        rises = [window.rise_c(heat.time_s, level_c) - _BROKEN_BY * climb_c for climb_c, window in self._windows]
        if any(rise > expanded_c * 0.1 for rise in rises):
            if falls:
                self.cooled_s += seconds
            else:
                self.climbed_s += seconds

    def helped(self, name: ClaimName) -> bool:
        """Tell whether what helps the pot truly happened."""
        soak = self._soak
        match name:
            case ClaimName.DRIED:
                return self.drying >= 1.0
            case ClaimName.FIRED:
                return self.fired_s >= 300.0
            case ClaimName.SOAKED:
                return soak is not None and self.soaked_s >= soak.hold_s
            case _:
                return self.end_c <= self.schedule.cold_c + 10.0

    def harmed(self) -> dict[str, bool]:
        """Tell which harm truly happened."""
        return {
            "overheated": self.over_s >= _BROKEN_FOR_S,
            "climbed": self.climbed_s >= _BROKEN_FOR_S,
            "cooled": self.cooled_s >= _BROKEN_FOR_S,
        }

    def __str__(self) -> str:
        harm = ", ".join(name for name, happened in self.harmed().items() if happened) or "no harm"
        return (
            f"dried {self.drying:.0%}, red {self.fired_s / 60:.0f} min, in band {self.soaked_s / 60:.0f} min, "
            f"peak {self.peak_c:.0f} °C, end {self.end_c:.0f} °C, {harm}"
        )


def claims_help(claim: Claim) -> bool:
    """Tell whether a claim says that it helped; drying by the clock is one that moves the pot on, weighed or not."""
    return claim.shown is ClaimShown.SHOWN or claim.doubts == (ClaimDoubt.NOT_WEIGHED,)


def better_than(truth: Truth, account: PotAccount) -> list[str]:
    """Give what the account says better than it was."""
    better = [
        f"{name} claimed, and it did not happen"
        for name in (ClaimName.DRIED, ClaimName.FIRED, ClaimName.SOAKED, ClaimName.COOLING_SEEN)
        if claims_help(account.claim(name)) and not truth.helped(name)
    ]
    said = {
        "overheated": (ClaimName.OVERHEATED,),
        "climbed": _CLIMBS,
        "cooled": (ClaimName.COOLED_TOO_FAST,),
    }
    for harm, happened in truth.harmed().items():
        if happened and all(account.claim(name).shown is ClaimShown.NOT_SHOWN for name in said[harm]):
            better.append(f"{harm}, and the account says it was not")
    return better


class MaskedHeat(ModelHeat):
    """A heat whose mishap nobody sees: from its beginning on the probe is out of action for a while."""

    mask: Wiring | None = None
    mask_s = 0.0

    def _wiring(self) -> Wiring:
        return self.mask if self.mask is not None and self._masked() else super()._wiring()

    def next_frame(self) -> bytes | None:
        """Give the board's frame; None while it is silent, which is the mask where no wiring is."""
        frame = super().next_frame()
        return None if self.mask is None and self._masked() else frame

    def _masked(self) -> bool:
        since_s = self.operator.fault_since_s
        return since_s is not None and self.time_s - since_s < self.mask_s


@dataclass(frozen=True)
class Case:
    """One heat: a mishap of the operator's or the board's, and perhaps a mask that hides it."""

    schedule: str
    seed: int
    fault: FaultName | None = None
    place: FaultPlace | None = None
    mask: Wiring | None = None
    mask_s: float = 0.0

    def __str__(self) -> str:
        what = "sound" if self.fault is None else str(self.fault)
        if self.place is not None:
            what += f" @{self.place.segment + 1}"
        if self.mask_s:
            what += f" behind {'silence' if self.mask is None else self.mask.value}"
        return f"{self.schedule:<29} {self.seed} {what}"

    def run(self) -> tuple[Truth, Monitor]:
        """Watch the heat to its end and close its record."""
        schedule, _ = read_schedule(SCHEDULES / f"{self.schedule}.toml")
        noise = tuple(NoiseClass)[self.seed % len(NoiseClass)]
        heat = MaskedHeat(schedule, seed=self.seed, fault=self.fault, fault_place=self.place, noise=noise)
        heat.mask, heat.mask_s = self.mask, self.mask_s
        truth, monitor, decoder = Truth(schedule), Monitor(schedule), FrameDecoder()
        expanded_c, before_s = 0.0, 0.0
        while not heat.over:
            data = heat.next_frame()
            if round(heat.time_s) % 60 == 0:
                expanded_c = monitor.expanded_uncertainty_c(heat.furnace.pot_c)
            truth.follow(heat, heat.time_s - before_s, expanded_c)
            before_s = heat.time_s
            for frame in decoder.feed(data or b""):
                monitor.feed(Reading(heat.time_s, frame.emf_uv, frame.junction_c, None, frame.faults))
            monitor.advance(heat.time_s)
        monitor.close()
        return truth, monitor


def cases(seeds: int) -> Iterator[Case]:
    """Lay out the heats: sound ones, every mishap, sensors that fail in the soak, and mishaps that nobody sees."""
    for seed in range(1, seeds + 1):
        for name in ("bronze-first-heat", "clay-graphite-first-heat", "later-heat-daily-use"):
            yield Case(name, seed)
    for seed in range(1, seeds + 1):
        for fault in FaultName:
            yield Case("bronze-first-heat", seed, fault)
        soak = FaultPlace(5, after_s=120.0, lasting_s=1500.0)
        drying = FaultPlace(1, after_s=600.0, lasting_s=5400.0)
        for fault in (FaultName.STUCK_SENSOR, FaultName.SHORTED_SENSOR, FaultName.NOISY_SENSOR):
            yield Case("bronze-first-heat", seed, fault, soak)
            yield Case("bronze-first-heat", seed, fault, drying)
        for hidden in (FaultName.FAST_RAMP, FaultName.FLAME_OUT, FaultName.OVERSHOOT, FaultName.SOAK_DRIFT):
            for mask in (Wiring.STUCK, Wiring.OPEN, None):
                yield Case("bronze-first-heat", seed, hidden, None, mask, 1800.0)


def judge(case: Case, *, full: bool) -> list[str]:
    """Watch one heat, print its account beside the truth, and give what is wrong with it."""
    truth, monitor = case.run()
    account, readiness = monitor.account(), monitor.readiness()
    wrong = better_than(truth, account)
    if case.fault is None and readiness.ready is Ready.INSPECT_FIRST and not any(truth.harmed().values()):
        wrong.append("a sound heat is to be inspected")
    print(f"{case!s:<72} {_row(account)}  {readiness.ready}", flush=True)
    print(f"    truth: {truth}")
    _print_reasons(account, readiness, full=full)
    for text in wrong:
        print(f"    FAILED: {text}")
    return wrong


def _print_reasons(account: PotAccount, readiness: Readiness, *, full: bool) -> None:
    if full:
        for sentence in account_sentences(account):
            print(f"      {sentence}")
        print(f"    {readiness_sentence(readiness)}")
    for sentence in reason_sentences(readiness):
        print(f"    why: {sentence}")


def _row(account: PotAccount) -> str:
    return " ".join(f"{_SHORT[account.claim(name).shown]:<{len(head)}}" for name, head in _COLUMNS.items())


def recorded(*, full: bool) -> None:
    """Print the account of every recorded case: nobody knows what truly happened to its pot."""
    print("\nThe recorded cases")
    for folder in sorted(each for each in CASES.iterdir() if each.is_dir()):
        with RecordReader(folder / "heat.jsonl.gz") as reader:
            schedule, _ = read_schedule(folder / "schedule.toml")
            monitor = Monitor(schedule, parameters_of(reader.header, folder.name))
            for _ in Replay(monitor).events(reader):
                pass
        account, readiness = monitor.account(), monitor.readiness()
        print(f"{folder.name:<72} {_row(account)}  {readiness.ready}")
        _print_reasons(account, readiness, full=full)


def main() -> int:
    """Run as the module's docstring says."""
    parser = argparse.ArgumentParser(description="Accounts of model heats beside the truth.")
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--only", default="", help="only heats whose line has this in it")
    parser.add_argument("--full", action="store_true", help="with every sentence of the account")
    asked = parser.parse_args()
    print(f"{'heat':<72} {' '.join(_COLUMNS.values())}  readiness")
    failed = heats = 0
    for case in cases(asked.seeds):
        if asked.only in str(case):
            heats += 1
            failed += bool(judge(case, full=asked.full))
    if not asked.only:
        recorded(full=asked.full)
    print(
        f"\n{heats} heats, {failed} with an account that is better than the truth or worse than a sound heat deserves"
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
