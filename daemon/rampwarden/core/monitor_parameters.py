"""What a watch may be told beside its schedule: everything that decides what a heat's readings come to.

It stands in the header of every record, so that a replay agrees with the watch. Has no behaviour.
"""

from dataclasses import dataclass, field, replace

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.heat import LONGEST_CREDITED_S
from rampwarden.core.instrument import BoardCalibration
from rampwarden.core.physics import GasSupply, PotWall
from rampwarden.core.pot import PotStanding


@dataclass(frozen=True, slots=True)
class OtherProbe:
    """A probe that is watched beside the followed one: its `name` (lower-case letters, digits and hyphens) names its
    alarms, `place` says where it hangs: pot, chamber, bottle or room. `ceiling_c` is the highest temperature it may
    have, °C, None for any. It is lost after `signal_lost_s` without a reading. `board` names what it is connected to,
    empty for the followed probe's board. The rest is as in `MonitorParameters`, of this probe.
    """

    name: str
    place: str = ""
    thermocouple_type: str = "K"
    tolerance_class: int = 2
    calibration: BoardCalibration = field(default_factory=BoardCalibration)
    ceiling_c: float | None = None
    signal_lost_s: float = 10.0
    board: str = ""


@dataclass(frozen=True, slots=True)
class MonitorParameters:
    """`tolerance_class`: of the thermocouple, by IEC 60584-1. `signal_lost_s`: seconds without any reading until
    signal-lost. `junction_range_c`: usual reference-junction temperatures, °C. `alarms`: the catalogue, perhaps with
    other priorities and delays. `calibration`: the board's own error, as far as it is known. `place`: where the probe
    hangs, "pot" or "chamber", empty where nobody has said. `standing`: where the register says that the pot stands
    before this heat, None where no register tells. `top_c`: the highest temperature that the crucible's maker allows,
    °C, a ceiling in every segment. `oxidises`: its class burns in air. `wall`: its wall, None where class or thickness
    is not known. `gas`: bottle and burner, None where they are not known or no gas burns. `probes`: those beside the
    followed one.
    """

    thermocouple_type: str = "K"
    tolerance_class: int = 2
    signal_lost_s: float = 10.0
    longest_credited_s: float = LONGEST_CREDITED_S
    junction_range_c: tuple[float, float] = (-10.0, 50.0)
    alarms: dict[str, AlarmEntry] = field(default_factory=lambda: dict(CATALOGUE))
    out_of_service: tuple[str, ...] = ()
    calibration: BoardCalibration = field(default_factory=BoardCalibration)
    place: str = ""
    top_c: float | None = None
    standing: PotStanding | None = None
    oxidises: bool = True
    wall: PotWall | None = None
    gas: GasSupply | None = None
    probes: tuple[OtherProbe, ...] = ()


def least_patience_s(interval_s: float) -> float:
    """Give after how long (s) a board that speaks every `interval_s` seconds may be called silent at the soonest."""
    return 3.0 * interval_s


def parameters_for_interval(interval_s: float) -> MonitorParameters:
    """Give the parameters for readings that come every `interval_s` seconds: whoever speaks seldom is not silent."""
    usual = MonitorParameters()
    return replace(
        usual,
        signal_lost_s=max(usual.signal_lost_s, least_patience_s(interval_s)),
        longest_credited_s=max(usual.longest_credited_s, 1.5 * interval_s),
    )
