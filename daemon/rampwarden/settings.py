"""Settings: one TOML file, `RAMPWARDEN_*` variables and flags, read once into one frozen tree.

The only place that reads configuration or the environment. Defaults stand here with unit and reason; nothing is ever
evaluated as code. Later sources win: defaults, file, environment, flags. Errors name the full key path, the value, why
it cannot be used and, for an unknown key, the nearest known one.
"""

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
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

ENVIRONMENT_PREFIX = "RAMPWARDEN_"
CONFIG_VARIABLE = f"{ENVIRONMENT_PREFIX}CONFIG"
_DELIMITER = "__"


def _seconds(value: object) -> object:
    return parse_duration(value) if isinstance(value, str) else value


def _celsius(value: object) -> object:
    return parse_temperature(value) if isinstance(value, str) else value


Seconds = Annotated[float, BeforeValidator(_seconds), Field(ge=0, le=86_400, allow_inf_nan=False)]
Celsius = Annotated[float, BeforeValidator(_celsius), Field(ge=-270, le=2000, allow_inf_nan=False)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class WatchSection(_Section):
    """What is watched and where its record goes."""

    schedule: Path | None = None
    records: Path = Path("heats")
    crucible: str = Field(default="", max_length=80)
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
    interval: Seconds = 1.0
    # Whether DTR is raised at opening; many boards restart when it is.
    dtr: bool = False
    dating: Dating = Dating.STEERED
    columns: tuple[Column, ...] = ()
    delimiter: Delimiter = Delimiter.ANY
    # Scaling of an adc column: reference voltage (V), resolution (bits), amplifier gain, and its offset (µV).
    reference_v: float = Field(default=2.048, gt=0, le=10)
    bits: int = Field(default=16, ge=8, le=32)
    gain: float = Field(default=1.0, gt=0, le=10_000)
    offset_uv: float = Field(default=0.0, ge=-1e6, le=1e6)
    # Undo a converter that linearised with one slope, µV/°C (41.276 is the usual one for type K); 0 leaves it alone.
    single_slope_uv_per_c: float = Field(default=0.0, ge=0, le=100)


class ThermocoupleSection(_Section):
    """The thermocouple itself."""

    type: Literal["B", "E", "J", "K", "N", "R", "S", "T"] = "K"
    tolerance_class: Literal[1, 2] = 2


class SignalSection(_Section):
    """When the signal counts as lost, and what is usual for the reference junction."""

    lost_after: Seconds = 10.0
    junction_lowest: Celsius = -10.0
    junction_highest: Celsius = 50.0


class AlarmSection(_Section):
    """One alarm's own priority, delays or service; what is not set stays as the catalogue has it."""

    priority: Priority | None = None
    on_delay: Seconds | None = None
    off_delay: Seconds | None = None
    out_of_service: bool = False


class BellSection(_Section):
    """The terminal bell."""

    enabled: bool = True
    # Where the bell rings; empty is the terminal the watch runs in.
    device: str = ""


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
    bell: BellSection = BellSection()
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


def load_settings(file: Path | None, flags: Mapping[str, object], environment: Mapping[str, str]) -> LoadedSettings:
    """Read every source; `flags` maps key paths such as ``board.port`` to values (None: not given).

    Raises `SettingsError` with one line for each fault.
    """
    layers: list[tuple[str, dict[str, object]]] = []
    if file is not None:
        layers.append((str(file), _read_file(file)))
    layers.append(("environment", _read_environment(environment)))
    layers.append(("flag", _nest(flags)))
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
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{file}: not a TOML file: {error}") from error


def _read_environment(environment: Mapping[str, str]) -> dict[str, object]:
    ours = {
        name: value
        for name, value in environment.items()
        if name.startswith(ENVIRONMENT_PREFIX) and name != CONFIG_VARIABLE
    }
    sections = {f"{ENVIRONMENT_PREFIX}{name}".upper() for name in Settings.model_fields}
    for name in ours:
        if name.partition(_DELIMITER)[0] not in sections:
            near = difflib.get_close_matches(name, [f"{section}{_DELIMITER}…" for section in sections], n=1)
            hint = near[0] if near else f"{ENVIRONMENT_PREFIX}BOARD{_DELIMITER}PORT, for example"
            raise SettingsError(f"environment: unknown variable {name}; did you mean {hint}?")
    source = EnvSettingsSource(
        Settings, case_sensitive=False, env_prefix=ENVIRONMENT_PREFIX, env_nested_delimiter=_DELIMITER
    )
    source.env_vars = {name.lower(): value for name, value in ours.items()}
    return dict(source())


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
        path = ".".join(location)
        place = origins.get(path) or next((origins[key] for key in origins if key.startswith(f"{path}.")), "settings")
        if fault["type"] == "extra_forbidden":
            known = _keys_beside(location)
            near = difflib.get_close_matches(location[-1], known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"known: {', '.join(known)}"
            yield f"{place}: unknown key {path}; {hint}"
        else:
            message = fault["msg"].removeprefix("Value error, ")
            yield f"{place}: {path} = {fault['input']!r}: {message[:1].lower()}{message[1:]}"


def _keys_beside(location: list[str]) -> list[str]:
    if len(location) == 1:
        return list(Settings.model_fields)
    field = Settings.model_fields[location[0]]
    section = AlarmSection if location[0] == "alarms" else field.annotation
    return list(section.model_fields) if isinstance(section, type) and issubclass(section, BaseModel) else []
