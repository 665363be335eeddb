"""Settings: one TOML file, `RAMPWARDEN_*` variables and flags, read once into one frozen tree.

The only place that reads configuration or the environment. Defaults stand here with unit and reason; nothing is ever
evaluated as code. Later sources win: defaults, file, environment, flags. Errors name the full key path, the value, why
it cannot be used and, for an unknown key, the nearest known one.
"""

import difflib
import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic.fields import FieldInfo
from pydantic_settings import (
    BaseSettings,
    EnvSettingsSource,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from rampwarden.core.board_clock import Dating
from rampwarden.core.catalogue import AlarmName
from rampwarden.core.framing import Column, Delimiter
from rampwarden.core.model import Priority
from rampwarden.core.quantities import parse_duration, parse_temperature
from rampwarden.errors import SettingsError
from rampwarden.plan.probe import Sheath

ENVIRONMENT_PREFIX = "RAMPWARDEN_"
CONFIG_VARIABLE = f"{ENVIRONMENT_PREFIX}CONFIG"
# Where systemd puts a unit's credentials.
CREDENTIALS_VARIABLE = "CREDENTIALS_DIRECTORY"
_DELIMITER = "__"


# The environment has only text, so a bare number in quotes is one too: seconds or °C, as the key says.
# No burner of a small foundry is stronger: a figure above it is in watts.
_MOST_KW = 1000.0
_BARE_NUMBER = re.compile(r"[+-]?\d{1,7}(\.\d{1,6})?")


def _seconds(value: object) -> object:
    if isinstance(value, bool) or (isinstance(value, str) and not _BARE_NUMBER.fullmatch(value)):
        return parse_duration(value)
    return value


def _celsius(value: object) -> object:
    if isinstance(value, bool) or (isinstance(value, str) and not _BARE_NUMBER.fullmatch(value)):
        return parse_temperature(value)
    return value


def _listed(value: object) -> object:
    return [part.strip() for part in value.split(",") if part.strip()] if isinstance(value, str) else value


def _at_home(value: object) -> object:
    # Only a shell would do it otherwise, and a folder named ~ is nobody's wish.
    try:
        return Path(value).expanduser() if isinstance(value, str) else value
    except RuntimeError as error:
        raise ValueError(str(error)) from None


Seconds = Annotated[float, BeforeValidator(_seconds), Field(ge=0, le=86_400, allow_inf_nan=False)]
Celsius = Annotated[float, BeforeValidator(_celsius), Field(ge=-270, le=2000, allow_inf_nan=False)]


def _powers(value: object) -> object:
    """Take one power for every segment, or several: a table, or text such as ``to red heat=12, *=9``."""
    if isinstance(value, str) and "=" in value:
        value = {name.strip(): power.strip() for name, _, power in (part.rpartition("=") for part in value.split(","))}
    table = value if isinstance(value, Mapping) else {"*": value}
    return {str(name): _power(name, power) for name, power in table.items()}


def _power(name: object, power: object) -> float:
    try:
        kw = float(power) if isinstance(power, str | int | float) and not isinstance(power, bool) else math.nan
    except ValueError:
        kw = math.nan
    if not name or not 0.0 <= kw <= _MOST_KW:
        raise ValueError(f"{power!r} is no power from 0 to {_MOST_KW:g} kW, alone or by segment ('to red heat' = 12)")
    return kw


Place = Annotated[Path, BeforeValidator(_at_home)]
# Burner power by segment, "*" for those that are not named, kW.
Powers = Annotated[dict[str, float] | None, BeforeValidator(lambda value: None if value is None else _powers(value))]
Columns = Annotated[tuple[Column, ...], BeforeValidator(_listed)]
# A name or address, IPv6 in brackets, and perhaps a port.
BrokerName = Annotated[str, Field(pattern=r"^(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(:\d{1,5})?$")]
# A name of this computer as browsers know it; they write it in small letters.
HostName = Annotated[str, Field(pattern=r"^[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?$")]
# One level of a topic, as the Homie convention allows it.
TopicLevel = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
RemoteCommand = Literal["acknowledge", "shelve", "note"]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class WatchSection(_Section):
    """What is watched and where its record goes."""

    schedule: Place | None = None
    records: Place = Path("heats")
    crucible: str = Field(default="", max_length=80)
    # What is melted, to be compared with what the crucible is kept for.
    metal: str = Field(default="", max_length=80)
    # The file of the crucible register; None is crucibles.sqlite beside the folder of the records.
    crucible_register: Place | None = None
    # An unfinished heat of the same port, written to this recently, is taken up again; 0 never does.
    resume_within: Seconds = 43_200.0
    # A line for the record's header: who, why, what is different this time.
    note: str = Field(default="", max_length=500)
    # A status line this often; alarms and messages are written at once.
    status_every: Seconds = 60.0


class BoardSection(_Section):
    """The serial board. `format` frames is our own open line, columns are plain delimited numbers."""

    port: str = ""
    baud: int = Field(default=115_200, ge=300, le=4_000_000)
    format: Literal["frames", "columns"] = "frames"
    channel: int = Field(default=0, ge=0, le=255)
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
    # The board's calibration: empty takes the one that was kept for this port, "none" goes without, else a file.
    calibration: str = Field(default="", max_length=4096)
    # Whether the board has a buzzer that heartbeats and alarm patterns are sent to.
    buzzer: bool = False


class ThermocoupleSection(_Section):
    """The thermocouple itself."""

    type: Literal["B", "E", "J", "K", "N", "R", "S", "T"] = "K"
    tolerance_class: Literal[1, 2] = 2


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
    """The workshop as `rampwarden plan` reckons with it. None is not known, and the plan says so."""

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


class MqttSection(_Section):
    """The MQTT broker that alarms and values go to; without one there is no MQTT."""

    # Tried in order, one at a time: name, name:port or [IPv6]:port. The port is 1883, with TLS 8883.
    broker: Annotated[tuple[BrokerName, ...], BeforeValidator(_listed)] = ()
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
    commands: Annotated[tuple[RemoteCommand, ...], BeforeValidator(_listed)] = ()


class PageSection(_Section):
    """The page that browsers open; served only when it is switched on."""

    enabled: bool = False
    # Where it is served: address:port, IPv6 in brackets. The usual one is reached from this computer alone.
    address: str = Field(default="127.0.0.1:8420", max_length=60)
    # The names browsers call it by, beside the address itself; a request under any other is refused.
    names: Annotated[tuple[HostName, ...], BeforeValidator(_listed)] = ()
    # Files with a token in their first line; who has the second may act, who has either may read.
    read_token_file: Place | None = None
    act_token_file: Place | None = None
    certificate: Place | None = None
    key: Place | None = None
    # A reverse proxy on this computer is the only way in; it speaks TLS and says for whom it asks.
    behind_proxy: bool = False
    # Off this computer everybody on the way can read what goes in the clear, the token first.
    allow_plain_text: bool = False


class ControlSection(_Section):
    """The socket through which other terminals ask the watch and tell it."""

    enabled: bool = True
    # What `--watch` calls this one; empty is named after the port. Short: a socket's path has room for 107 bytes.
    name: str = Field(default="", pattern=r"^([A-Za-z0-9][A-Za-z0-9._-]{0,39})?$")


class LogSection(_Section):
    """Log lines; auto is readable on a terminal and JSON elsewhere."""

    format: Literal["auto", "text", "json"] = "auto"


class Settings(BaseSettings):
    """The whole tree."""

    model_config = SettingsConfigDict(extra="forbid", frozen=True, validate_default=True)

    watch: WatchSection = WatchSection()
    board: BoardSection = BoardSection()
    thermocouple: ThermocoupleSection = ThermocoupleSection()
    signal: SignalSection = SignalSection()
    alarms: dict[AlarmName, AlarmSection] = {}
    workshop: WorkshopSection = WorkshopSection()
    bell: BellSection = BellSection()
    mqtt: MqttSection = MqttSection()
    control: ControlSection = ControlSection()
    page: PageSection = PageSection()
    log: LogSection = LogSection()

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Everything comes through `load_settings`, which knows where each value is from."""
        return (init_settings,)


class LoadedSettings(BaseModel):
    """The tree, and for each key path that is not at its default the source it came from."""

    model_config = ConfigDict(frozen=True)

    settings: Settings
    origins: dict[str, str]


_SECTIONS = frozenset(Settings.model_fields)


def load_settings(file: Path | None, flags: Mapping[str, object], environment: Mapping[str, str]) -> LoadedSettings:
    """Read every source; `flags` maps key paths such as ``board.port`` to values (None: not given).

    Raises `SettingsError` with one line for each fault.
    """
    layers: list[tuple[str, dict[str, object]]] = []
    if file is not None:
        layers.append((str(file), _read_file(file)))
    layers.append(("environment", _read_environment(environment)))
    layers.append(("flag", _nest(flags)))
    for source, layer in layers:
        for section, value in layer.items():
            if section in Settings.model_fields and not isinstance(value, Mapping):
                raise SettingsError(f"{source}: {section} = {value!r}: is a section; write its keys below [{section}]")
    merged: dict[str, object] = {}
    origins: dict[str, str] = {}
    for source, layer in layers:
        _merge(merged, layer)
        origins.update((path, source) for path, _ in leaves(layer))
    try:
        settings = Settings(**merged)  # type: ignore[arg-type]  # pydantic checks every value
    except ValidationError as error:
        raise SettingsError("\n".join(_explain(error, origins))) from None
    return LoadedSettings(settings=settings, origins=origins)


def leaves(tree: Mapping[str, object], prefix: str = "") -> Iterator[tuple[str, object]]:
    """Give every key path of a tree with its value, sections opened."""
    for key, value in tree.items():
        path = f"{prefix}{key}"
        if isinstance(value, Mapping):
            yield from leaves(value, f"{path}.")
        else:
            yield path, value


def _read_file(file: Path) -> dict[str, object]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError(f"{file}: cannot read the settings: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise SettingsError(f"{file}: not a TOML file: {error}") from error


class _Environment(EnvSettingsSource):
    """Leaves every value the text it is: what a list or a section may look like is the model's business, not JSON's."""

    def decode_complex_value(self, field_name: str, field: FieldInfo, value: object) -> object:
        return value


def _read_environment(environment: Mapping[str, str]) -> dict[str, object]:
    ours = {
        name: value
        for name, value in environment.items()
        if name.startswith(ENVIRONMENT_PREFIX) and name != CONFIG_VARIABLE
    }
    unknown = [
        name for name in ours if name.removeprefix(ENVIRONMENT_PREFIX).partition(_DELIMITER)[0].lower() not in _SECTIONS
    ]
    if unknown:
        known = [path.replace(".", _DELIMITER).upper() for path, _ in leaves(Settings().model_dump())]
        raise SettingsError("\n".join(_explain_variable(name, known) for name in unknown))
    source = _Environment(
        Settings, case_sensitive=False, env_prefix=ENVIRONMENT_PREFIX, env_nested_delimiter=_DELIMITER
    )
    source.env_vars = {name.lower(): value for name, value in ours.items()}
    tree: dict[str, object] = dict(source())
    alarms = tree.get("alarms")
    if isinstance(alarms, Mapping):
        # No variable's name may hold a hyphen.
        tree["alarms"] = {name.replace("_", "-"): section for name, section in alarms.items()}
    return tree


def _explain_variable(name: str, known: list[str]) -> str:
    # Without the prefix: it makes all of them look alike.
    near = difflib.get_close_matches(name.removeprefix(ENVIRONMENT_PREFIX), known, n=1)
    shown = (
        f"did you mean {ENVIRONMENT_PREFIX}{near[0]}?" if near else f"one that is known: {ENVIRONMENT_PREFIX}{known[0]}"
    )
    return f"environment: unknown variable {name}; {shown}"


def _nest(flags: Mapping[str, object]) -> dict[str, object]:
    tree: dict[str, object] = {}
    for path, value in flags.items():
        if value is not None:
            section, _, key = path.partition(".")
            branch = tree.setdefault(section, {})
            if isinstance(branch, dict):
                branch[key] = value
    return tree


def _merge(into: dict[str, object], layer: Mapping[str, object]) -> None:
    for key, value in layer.items():
        present = into.get(key)
        if isinstance(value, Mapping) and isinstance(present, dict):
            _merge(present, value)
        else:
            into[key] = dict(value) if isinstance(value, Mapping) else value


def _explain(error: ValidationError, origins: Mapping[str, str]) -> Iterator[str]:
    for fault in error.errors():
        location = [str(part) for part in fault["loc"] if part != "[key]"]
        path, place = ".".join(location), _origin(location, origins)
        is_alarm_name = location[0] == "alarms" and len(location) == 2 and fault["loc"][-1] == "[key]"
        if fault["type"] == "extra_forbidden" or is_alarm_name:
            known = _keys_beside(location)
            near = difflib.get_close_matches(location[-1], known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"known: {', '.join(known)}"
            yield f"{place}: unknown key {path}; {hint}"
        else:
            value, message = repr(fault["input"]), fault["msg"].removeprefix("Value error, ")
            if not message.startswith(value):
                message = f"{value}: {message[:1].lower()}{message[1:]}"
            yield f"{place}: {path} = {message}"


def _origin(location: list[str], origins: Mapping[str, str]) -> str:
    """Give where a faulty value came from: its own key, the list it stands in, or the first key of its section."""
    for length in range(len(location), 0, -1):
        path = ".".join(location[:length])
        for key, source in origins.items():
            if key == path or key.startswith(f"{path}."):
                return source
    return "settings"


def _keys_beside(location: list[str]) -> list[str]:
    if len(location) == 1:
        return list(Settings.model_fields)
    field = Settings.model_fields[location[0]]
    if location[0] == "alarms":
        return list(AlarmName) if len(location) == 2 else list(AlarmSection.model_fields)
    section = field.annotation
    return list(section.model_fields) if isinstance(section, type) and issubclass(section, BaseModel) else []
