"""One TOML file, `RAMPWARDEN_*` variables and flags, read once into one frozen tree.

The only place that reads configuration or the environment. Nothing is ever evaluated as code. Later sources win:
defaults, file, environment, flags. Errors name the full key path, the value, why it cannot be used and, for an unknown
key, the nearest known one.
"""

import difflib
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from rampwarden.errors import SettingsError
from rampwarden.settings.following import follow_faults, followed
from rampwarden.settings.probes import probe_faults
from rampwarden.settings.sections import AlarmSection, BoardSection, ProbeSection, Settings
from rampwarden.toml_files import read_toml

ENVIRONMENT_PREFIX = "RAMPWARDEN_"
CONFIG_VARIABLE = f"{ENVIRONMENT_PREFIX}CONFIG"
# Where systemd puts a unit's credentials.
CREDENTIALS_VARIABLE = "CREDENTIALS_DIRECTORY"
_DELIMITER = "__"


class LoadedSettings(BaseModel):
    """The tree, and for each key path that is not at its default the source it came from."""

    model_config = ConfigDict(frozen=True)

    settings: Settings
    origins: dict[str, str]


_SECTIONS = frozenset(Settings.model_fields)
_NAMED_SECTIONS: Mapping[str, type[BaseModel]] = {
    "alarms": AlarmSection,
    "boards": BoardSection,
    "probes": ProbeSection,
}
"""Sections of which there is one for each name."""


def load_settings(file: Path | None, flags: Mapping[str, object], environment: Mapping[str, str]) -> LoadedSettings:
    """Read every source; `flags` maps key paths such as ``board.port`` to values (None: not given).

    Raises `SettingsError` with one line for each fault.
    """
    layers: list[tuple[str, dict[str, object]]] = []
    if file is not None:
        layers.append((str(file), _read_file(file)))
    layers.append(("environment", read_environment(environment)))
    layers.append(("flag", nest(flags)))
    for source, layer in layers:
        for section, value in layer.items():
            if section in Settings.model_fields and not isinstance(value, Mapping):
                raise SettingsError(f"{source}: {section} = {value!r}: is a section; write its keys below [{section}]")
    merged: dict[str, object] = {}
    origins: dict[str, str] = {}
    for source, layer in layers:
        merge(merged, layer)
        origins.update((path, source) for path, _ in leaves(layer))
    try:
        settings = Settings(**merged)  # type: ignore[arg-type]  # pydantic checks every value
    except ValidationError as error:
        raise SettingsError("\n".join(_explain(error, origins))) from None
    if faults := (*probe_faults(settings), *follow_faults(settings)):
        raise SettingsError("\n".join(f"{_origin(_place_of(fault), origins)}: {fault}" for fault in faults))
    return LoadedSettings(settings=followed(settings), origins=origins)


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
        return read_toml(file)
    except OSError as error:
        raise SettingsError(f"{file}: cannot read the settings: {error.strerror}") from error
    except ValueError as error:
        raise SettingsError(f"{file}: {error}") from error


def read_environment(environment: Mapping[str, str]) -> dict[str, object]:
    """Give what our variables say, by section; raises `SettingsError` for one that is unknown."""
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
    if not ours:
        return {}
    # The library costs a command a tenth of a second, and few have variables of ours.
    from rampwarden.settings.environment import tree_of  # noqa: PLC0415

    tree = tree_of(ours, prefix=ENVIRONMENT_PREFIX, delimiter=_DELIMITER)
    for kind in _NAMED_SECTIONS:
        named = tree.get(kind)
        if isinstance(named, Mapping):
            # No variable's name may hold a hyphen.
            tree[kind] = {name.replace("_", "-"): section for name, section in named.items()}
    return tree


def _explain_variable(name: str, known: list[str]) -> str:
    # Without the prefix: it makes all of them look alike.
    near = difflib.get_close_matches(name.removeprefix(ENVIRONMENT_PREFIX), known, n=1)
    shown = (
        f"did you mean {ENVIRONMENT_PREFIX}{near[0]}?" if near else f"one that is known: {ENVIRONMENT_PREFIX}{known[0]}"
    )
    return f"environment: unknown variable {name}; {shown}"


def nest(flags: Mapping[str, object]) -> dict[str, object]:
    """Give a tree of sections from key paths; what is None is not given."""
    tree: dict[str, object] = {}
    for path, value in flags.items():
        if value is not None:
            section, _, key = path.partition(".")
            branch = tree.setdefault(section, {})
            if isinstance(branch, dict):
                branch[key] = value
    return tree


def merge(into: dict[str, object], layer: Mapping[str, object]) -> None:
    """Put a layer over what is there, section by section."""
    for key, value in layer.items():
        present = into.get(key)
        if isinstance(value, Mapping) and isinstance(present, dict):
            merge(present, value)
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


def _place_of(fault: str) -> list[str]:
    """Give the key path that a sentence begins with."""
    return re.split(r"[ :]", fault, maxsplit=1)[0].split(".")


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
    if location[0] == "alarms" and len(location) == 2:
        from rampwarden.core.catalogue import CATALOGUE  # noqa: PLC0415 (see `values`)

        return list(CATALOGUE)
    section = _NAMED_SECTIONS.get(location[0], field.annotation)
    return list(section.model_fields) if isinstance(section, type) and issubclass(section, BaseModel) else []
