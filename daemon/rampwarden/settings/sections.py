"""The tree of settings, a section a class: every key with its default, unit, bounds and reason.

Reads nothing: `loading` does.
"""

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from rampwarden.core.instrument import Dating, Delimiter
from rampwarden.core.model import Priority
from rampwarden.formats import Ending, Unit, Word
from rampwarden.plan import ProbePlace, Sheath
from rampwarden.settings.values import (
    BrokerName,
    Celsius,
    Channel,
    Columns,
    HostName,
    KeyName,
    KnownAlarm,
    LongTime,
    MarkText,
    Names,
    Numbers,
    Place,
    Powers,
    ProbeName,
    Questions,
    Registers,
    RemoteCommand,
    Seconds,
    TablesPlace,
    TopicLevel,
    listed,
)


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class WatchSection(_Section):
    """What is watched and where its record goes."""

    schedule: Place | None = None
    records: Place = Path("heats")
    crucible: str = Field(default="", max_length=80)
    # The probe that the schedule follows, by its name in [probes.NAME]; empty is that of [board] and [thermocouple].
    follow: ProbeName | Literal[""] = ""
    # What is melted, to be compared with what the crucible is kept for.
    metal: str = Field(default="", max_length=80)
    # The file of the crucible register, or a shop's server; None is crucibles.sqlite beside the folder of the records.
    crucible_register: TablesPlace | None = None
    # An unfinished heat of the same port, written to this recently, is taken up again; 0 never does.
    resume_within: Seconds = 43_200.0
    # Records finished longer ago than this are packed (gzip, a tenth of the room); 0 packs none.
    pack_after: LongTime = 2_592_000.0
    # A line for the record's header: who, why, what is different this time.
    note: str = Field(default="", max_length=500)
    # A status line this often; alarms and messages are written at once.
    status_every: Seconds = 60.0
    # In what a terminal shows temperatures; the record, JSON and MQTT stay in °C.
    degrees: Literal["C", "F"] = "C"


class BoardSection(_Section):
    """The serial board. `format` frames is our own open line, columns are plain delimited numbers.

    In labels and json each value has a name; modbus is a slave on a bus. `ask` makes of columns, labels and json what a
    board answers.
    """

    port: str = ""
    baud: int = Field(default=115_200, ge=300, le=4_000_000)
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1
    format: Literal["frames", "columns", "labels", "json", "modbus"] = "frames"
    channel: Channel = 0
    # The usual time between lines: five of them missed count as silence of the port.
    interval: Annotated[Seconds, Field(ge=0.01)] = 1.0
    # Whether DTR is raised at opening; many boards restart when it is.
    dtr: bool = False
    dating: Dating = Dating.STEERED
    columns: Columns = ()
    delimiter: Delimiter = Delimiter.ANY
    # Scaling of an adc column: reference voltage (V), resolution (bits), amplifier gain, and its offset (µV).
    reference_v: float = Field(default=2.048, gt=0, le=10)
    bits: int = Field(default=16, ge=8, le=32)
    gain: float = Field(default=1.0, gt=0, le=10_000)
    offset_uv: float = Field(default=0.0, ge=-1e6, le=1e6)
    # Undo a converter that linearised with one slope, µV/°C (41.276 is the usual one for type K); 0 leaves it alone.
    single_slope_uv_per_c: float = Field(default=0.0, ge=0, le=100)
    # Labels or keys of the measured values, one a channel, and of what stands beside them: reference junction (one for
    # all, or one each), the board's milliseconds, and what tells of a fault.
    values: Names = ()
    junction: Names = ()
    ms: str = Field(default="", max_length=60)
    fault: str = Field(default="", max_length=60)
    # What a value is in where the board does not say so itself.
    unit: Unit = Unit.C
    # Numbers, as the board sends them, that stand for an open thermocouple.
    open_values: Numbers = ()
    # A board that must be asked: the questions of a round, what ends one, how long an answer is waited for.
    ask: Questions = ()
    ask_end: Ending = Ending.LF
    answer_within: Annotated[Seconds, Field(ge=0.05, le=30)] = 1.0
    # A slave on a Modbus RTU bus: the first register of each channel, counted from 0, and what a count means.
    slave: int = Field(default=1, ge=1, le=247)
    function: Literal[3, 4] = 4
    registers: Registers = ()
    junction_registers: Registers = ()
    word: Word = Word.INT16
    word_order: Literal["high-first", "low-first"] = "high-first"
    scale: float = Field(default=1.0, ge=-1e6, le=1e6, allow_inf_nan=False)
    # The board's calibration: empty takes the one that was kept for this port, "none" goes without, else a file.
    calibration: str = Field(default="", max_length=4096)
    # Whether the board has a buzzer that heartbeats and alarm patterns are sent to.
    buzzer: bool = False


class ThermocoupleSection(_Section):
    """The thermocouple itself."""

    type: Literal["B", "E", "J", "K", "N", "R", "S", "T"] = "K"
    tolerance_class: Literal[1, 2] = 2
    # Where it hangs: whose temperature is watched. None: nobody has said, and the plan asks.
    place: ProbePlace | None = None


class ProbeSection(_Section):
    """A probe that is watched beside the followed one, which [board] and [thermocouple] describe."""

    # The name of its board in [boards.NAME]; empty is the followed probe's board.
    board: ProbeName | Literal[""] = ""
    channel: Channel = 0
    type: Literal["B", "E", "J", "K", "N", "R", "S", "T"] = "K"
    tolerance_class: Literal[1, 2] = 2
    # A file with the calibration of this channel; empty is none.
    calibration: str = Field(default="", max_length=4096)
    # On the pot's wall or in the charge, beside the pot, on the bottle's wall at liquid height, or in the room.
    place: Literal["pot", "chamber", "bottle", "room"]
    # The highest temperature it may have; None is any.
    ceiling: Celsius | None = None


class SignalSection(_Section):
    """When the signal counts as lost, and what is usual for the reference junction."""

    # Below a second the time between two readings would be silence.
    lost_after: Annotated[Seconds, Field(ge=1)] = 10.0
    junction_lowest: Celsius = -10.0
    junction_highest: Celsius = 50.0

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.junction_lowest >= self.junction_highest:
            raise ValueError("junction_lowest must lie below junction_highest")
        return self


class AlarmSection(_Section):
    """One alarm's own priority, delays or service; what is not set stays as the catalogue has it."""

    priority: Priority | None = None
    on_delay: Seconds | None = None
    off_delay: Seconds | None = None
    out_of_service: bool = False


class WorkshopSection(_Section):
    """The workshop as plan and watch reckon with it. None is not known: the plan says so, the watch says nothing."""

    ambient: Celsius = 20.0
    # Without gas (an electric furnace) nothing is said of bottles.
    fuel: Literal["propane", "none"] = "propane"
    # Net burner power, kW: one figure, or by segment with "*" for the rest.
    burner_kw: Powers = None
    # What a bottle holds when full, weighs now, and weighs empty as stamped on it, kg.
    bottle_kg: float | None = Field(default=None, ge=0.1, le=2000)
    gross_kg: float | None = Field(default=None, ge=0.1, le=4000)
    tare_kg: float | None = Field(default=None, ge=0.1, le=2000)
    # Outer diameter, mm; None is what is usual for its size.
    bottle_mm: float | None = Field(default=None, ge=50, le=2000)
    # Bottles that feed the burner together.
    bottles: int = Field(default=1, ge=1, le=20)
    # Gauge pressure the regulator needs, bar.
    needed_bar: float = Field(default=1.0, ge=0, le=10)
    # Butane in the gas, mol %; None is not known, and the plan says what it would change.
    butane_percent: float | None = Field(default=None, ge=0, le=100)
    # The bottle's temperature at the start; None is the workshop's.
    bottle_at: Celsius | None = None
    # What a kilogram of gas costs, in the workshop's own money; None is not known, and no cost is shown.
    gas_price: float | None = Field(default=None, gt=0, le=100_000)
    # The thermocouple: diameter of its bare wire and outer diameter of its sheath or tube, mm; what the sheath is of.
    wire_mm: float | None = Field(default=None, ge=0.05, le=10)
    sheath_mm: float | None = Field(default=None, ge=0.2, le=60)
    sheath: Sheath | None = None

    @model_validator(mode="after")
    def _weighs_what_it_holds(self) -> Self:
        if self.gross_kg is not None and self.tare_kg is not None and self.gross_kg < self.tare_kg:
            raise ValueError("gross_kg must not lie below tare_kg: no bottle weighs less than when it is empty")
        return self


class BellSection(_Section):
    """The terminal bell."""

    enabled: bool = True
    # Where the bell rings; empty is the terminal the watch runs in.
    device: str = ""
    # With "unreached" it rings only while nobody can be reached over MQTT.
    when: Literal["always", "unreached"] = "always"


class SpeechSection(_Section):
    """A voice at the furnace."""

    enabled: bool = False
    # The program that speaks, to which the text is appended; empty is what is installed, spd-say or espeak-ng.
    command: Annotated[tuple[str, ...], BeforeValidator(listed)] = ()
    degrees: Literal["C", "F"] = "C"


class ButtonsSection(_Section):
    """A large key or foot switch, or keys of the display: acknowledge, and marks."""

    # The input device of the button, as in /dev/input/by-id/…; empty: keys of the display.
    device: str = ""
    # Whether nothing else gets the device's keys: a foot switch then types into no shell.
    alone: bool = False
    # Keys that acknowledge every alarm; with a device and none named, every key that has no mark.
    acknowledge: Annotated[tuple[KeyName, ...], BeforeValidator(listed)] = ()
    marks: dict[KeyName, MarkText] = {}

    @model_validator(mode="after")
    def _keys_are_told_apart(self) -> Self:
        if both := sorted(set(self.acknowledge) & set(self.marks)):
            raise ValueError(f"{both[0]} stands in acknowledge and in marks; a key does one thing")
        if not self.device:
            for name in (*self.acknowledge, *self.marks):
                if len(name) > 1 and name != "space":
                    raise ValueError(f"{name}: the display's keys are letters, digits and space; others need a device")
        return self


class MqttSection(_Section):
    """The MQTT broker that alarms and values go to; without one there is no MQTT."""

    # Tried in order, one at a time: name, name:port or [IPv6]:port. The port is 1883, with TLS 8883.
    broker: Annotated[tuple[BrokerName, ...], BeforeValidator(listed)] = ()
    # The furnace's name on the broker, which is also the client id: no two furnaces may share it.
    device: TopicLevel = "furnace-1"
    name: str = Field(default="", max_length=80)
    prefix: TopicLevel = "homie"
    tls: bool = False
    ca_file: Place | None = None
    certificate: Place | None = None
    key: Place | None = None
    user: str = Field(default="", max_length=80)
    password_file: Place | None = None
    # Off this computer everybody on the way can read, and with commands change, what goes in the clear.
    allow_plain_text: bool = False
    commands: Annotated[tuple[RemoteCommand, ...], BeforeValidator(listed)] = ()


class PageSection(_Section):
    """The page that browsers open; served only when it is switched on."""

    enabled: bool = False
    # Where it is served: address:port, IPv6 in brackets. The usual one is reached from this computer alone.
    address: str = Field(default="127.0.0.1:8420", max_length=60)
    # The names browsers call it by, beside the address itself; a request under any other is refused.
    names: Annotated[tuple[HostName, ...], BeforeValidator(listed)] = ()
    # Files with a token in their first line; who has the second may act, who has either may read.
    read_token_file: Place | None = None
    act_token_file: Place | None = None
    certificate: Place | None = None
    key: Place | None = None
    # Whether figures are given at /metrics to programs that have the token to read.
    metrics: bool = False
    # A reverse proxy on this computer is the only way in; it speaks TLS and says for whom it asks.
    behind_proxy: bool = False
    # Off this computer everybody on the way can read what goes in the clear, the token first.
    allow_plain_text: bool = False


class ArchiveSection(_Section):
    """Where heats are kept with what they came to, for whoever looks back over many."""

    # Whether a watch hands its heat in when it ends, and what earlier ones could not.
    enabled: bool = False
    # A folder, which furnaces may share, or a shop's server by its URL; None is archive beside the records' folder.
    place: TablesPlace | None = None


class ControlSection(_Section):
    """The socket through which other terminals ask the watch and tell it."""

    enabled: bool = True
    # What `--watch` calls this one; empty is named after the port. Short: a socket's path has room for 107 bytes.
    name: str = Field(default="", pattern=r"^([A-Za-z0-9][A-Za-z0-9._-]{0,39})?$")


class LogSection(_Section):
    """Log lines: sentences everywhere, or one JSON object a line for programs."""

    # Files from when a pipe got JSON unasked say "auto"; nobody's watch shall fail to start over that.
    format: Annotated[Literal["text", "json"], BeforeValidator(lambda value: "text" if value == "auto" else value)] = (
        "text"
    )


class Settings(_Section):
    """The whole tree."""

    watch: WatchSection = WatchSection()
    board: BoardSection = BoardSection()
    thermocouple: ThermocoupleSection = ThermocoupleSection()
    # Further boards and further probes, by name; without them there is the one probe of [board] and [thermocouple].
    boards: dict[ProbeName, BoardSection] = {}
    probes: dict[ProbeName, ProbeSection] = {}
    signal: SignalSection = SignalSection()
    alarms: dict[KnownAlarm, AlarmSection] = {}
    workshop: WorkshopSection = WorkshopSection()
    bell: BellSection = BellSection()
    speech: SpeechSection = SpeechSection()
    buttons: ButtonsSection = ButtonsSection()
    mqtt: MqttSection = MqttSection()
    archive: ArchiveSection = ArchiveSection()
    control: ControlSection = ControlSection()
    page: PageSection = PageSection()
    log: LogSection = LogSection()
