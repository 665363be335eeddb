"""Whether the account of a pot is ever better than the truth: whole heats of three models, each mishap in turn.

First the product's own model furnace: frames go straight into decoder and monitor, every mishap of a rehearsal, and
mishaps behind a sensor that is out of action. Then two simulated furnaces of different structure, with a person who
believes the reading, and mishaps by which the pot truly misses what the reading says it had (`account_heats`). Beside
what the account claims stands what truly befell the pot: the models know its temperature, whatever the probe said. What
a single probe cannot tell by any means (it reads another place than the pot, or its wire is off) is printed like all
else and counted apart. A sound heat that is to be inspected without a cause that truly happened is as much a failure.
Then the accounts of the recorded cases, of which nobody knows the truth. Run by `make bench-account`; exits 1 if any
account failed.

    python tests/benchmarks/account_truth.py [--seeds 2] [--only stuck] [--full]
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.account_heats import UNTELLABLE, FurnaceCase, furnace_cases
from benchmarks.account_judging import Truth, better_than
from rampwarden.core.instrument.framing import FrameDecoder
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import (
    ClaimName,
    ClaimShown,
    PotAccount,
    Readiness,
    Ready,
    account_sentences,
    readiness_sentence,
    reason_sentences,
)
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

_SHORT = {ClaimShown.SHOWN: "shown", ClaimShown.IN_DOUBT: "doubt", ClaimShown.NOT_SHOWN: "not"}
_HIDDEN = (FaultName.FAST_RAMP, FaultName.FLAME_OUT, FaultName.OVERSHOOT, FaultName.SOAK_DRIFT)
_MASKS = (Wiring.STUCK, Wiring.OPEN, None)
"""Behind two of these each mishap is hidden, by another two from seed to seed."""
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

    @property
    def is_sound(self) -> bool:
        """Whether nothing befalls it."""
        return self.fault is None

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
            index = None if heat.operator.complete else heat.operator.index
            truth.follow(heat.time_s, heat.furnace.pot_c, index, heat.time_s - before_s, expanded_c)
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
        for number, hidden in enumerate(_HIDDEN):
            for mask in (*_MASKS[: (seed + number) % 3], *_MASKS[(seed + number) % 3 + 1 :]):
                yield Case("bronze-first-heat", seed, hidden, None, mask, 1800.0)


def judge(case: Case | FurnaceCase, *, full: bool) -> list[str]:
    """Watch one heat, print its account beside the truth, and give what is wrong with it."""
    truth, monitor = case.run()
    account, readiness = monitor.account(), monitor.readiness()
    wrong = better_than(truth, account)
    if case.is_sound and readiness.ready is Ready.INSPECT_FIRST and not any(truth.harmed().values()):
        wrong.append("a sound heat is to be inspected")
    print(f"{case!s:<72} {_row(account)}  {readiness.ready}", flush=True)
    print(f"    truth: {truth}")
    _print_reasons(account, readiness, full=full)
    word = "NOBODY CAN TELL" if _is_untellable(case) else "FAILED"
    for text in wrong:
        print(f"    {word}: {text}")
    return wrong


def _is_untellable(case: Case | FurnaceCase) -> bool:
    return isinstance(case, FurnaceCase) and case.mishap in UNTELLABLE


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
    failed = heats = untold = 0
    for case in (*cases(asked.seeds), *furnace_cases(asked.seeds)):
        if asked.only in str(case):
            heats += 1
            wrong = bool(judge(case, full=asked.full))
            untold += wrong and _is_untellable(case)
            failed += wrong and not _is_untellable(case)
    if not asked.only:
        recorded(full=asked.full)
    print(
        f"\n{heats} heats, {failed} with an account that is better than the truth or worse than a sound heat deserves; "
        f"{untold} more in which a single probe cannot tell"
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
