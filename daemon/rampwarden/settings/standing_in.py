"""Settings for a start that cannot read its own: what stands in a heat's record, or what is still legible of them.

A furnace that is hot must be watched though somebody has just mistyped a line. What is found here serves to go on with
an unfinished heat and for nothing else: a fresh one is for `load_settings`, which refuses whatever is wrong.
"""

import re
from collections.abc import Mapping
from pathlib import Path

from pydantic import ValidationError

from rampwarden.errors import SettingsError
from rampwarden.settings.following import follow_faults, followed
from rampwarden.settings.loading import leaves, merge, nest, read_environment
from rampwarden.settings.sections import Settings
from rampwarden.toml_files import bounded_toml

# A section's line, perhaps without its second bracket.
_SECTION = re.compile(r"^\s*\[\s*([A-Za-z0-9_.\-]+)")
_KEY = re.compile(r"^\s*[A-Za-z0-9_.\-]+\s*=")
_MOST_FAULTS = 200


def legible_settings(file: Path | None, flags: Mapping[str, object], environment: Mapping[str, str]) -> Settings:
    """Give whatever can be read of every source; each key that cannot is at its default. Raises nothing."""
    return _forgiving([_legible_file(file), *_beside_the_file(flags, environment)])


def recorded_settings(
    recorded: Mapping[str, object], legible: Settings, flags: Mapping[str, object], environment: Mapping[str, str]
) -> Settings:
    """Give the settings a heat was begun with, below variables and flags. A section of which nothing is `recorded` is
    taken as far as it is `legible`.

    Raises nothing.
    """
    below = legible.model_dump(mode="json", exclude_defaults=True)
    sections = {name: section for name, section in below.items() if name not in recorded}
    return _forgiving([sections, recorded, *_beside_the_file(flags, environment)])


def looks_cut_short(file: Path | None) -> str:
    """Say how a settings file looks like one that a disk or a hand has cut short; empty if it does not.

    Raises nothing.
    """
    if file is None:
        return ""
    try:
        data = file.read_bytes()
    except OSError:
        return ""
    table = _table(data.decode(errors="replace"))
    if table is not None and not any(leaves(table)):
        return "it is empty"
    return "" if data.endswith(b"\n") else "it breaks off in the midst of a line"


def _beside_the_file(flags: Mapping[str, object], environment: Mapping[str, str]) -> list[Mapping[str, object]]:
    try:
        variables = read_environment(environment)
    except SettingsError:
        variables = {}
    return [variables, nest(flags)]


def _forgiving(layers: list[Mapping[str, object]]) -> Settings:
    merged: dict[str, object] = {}
    for layer in layers:
        sections = {name: value for name, value in layer.items() if isinstance(value, Mapping)}
        merge(merged, sections)
    for _ in range(_MOST_FAULTS):
        try:
            settings = Settings(**merged)  # type: ignore[arg-type]  # pydantic checks every value
            return settings if any(follow_faults(settings)) else followed(settings)
        except ValidationError as error:
            for fault in error.errors():
                _leave_out(merged, [part for part in fault["loc"] if part != "[key]"])
    return Settings()


def _leave_out(tree: dict[str, object], location: list[int | str]) -> None:
    """Remove the key a fault lies in, or the section where no single key is to blame."""
    branch: object = tree
    for depth, part in enumerate(location):
        if not isinstance(branch, dict):
            return
        deeper = branch.get(str(part))
        if depth == len(location) - 1 or not isinstance(deeper, dict):
            branch.pop(str(part), None)
            return
        branch = deeper


def _legible_file(file: Path | None) -> dict[str, object]:
    """Read a settings file section by section and line by line, where it is no TOML as a whole."""
    try:
        text = "" if file is None else file.read_bytes().decode(errors="replace")
    except OSError:
        return {}
    table = _table(text)
    if table is not None:
        return table
    found: dict[str, object] = {}
    section: list[str] = []
    for line in [*text.splitlines(), "[end]"]:
        if _SECTION.match(line):
            merge(found, _legible_section(section))
            section = []
        section.append(line)
    return found


def _legible_section(lines: list[str]) -> dict[str, object]:
    head = _SECTION.match(lines[0]) if lines else None
    if head is None:
        return {}
    found: dict[str, object] = {}
    for number, line in enumerate(lines[1:], start=1):
        if _KEY.match(line):
            # A value may go on over the next lines, up to the next key.
            for end in range(number + 1, min(len(lines), number + 50) + 1):
                table = _table("\n".join([f"[{head[1]}]", *lines[number:end]]))
                if table is not None:
                    merge(found, table)
                    break
                if end < len(lines) and _KEY.match(lines[end]):
                    break
    return found


def _table(text: str) -> dict[str, object] | None:
    try:
        return bounded_toml(text.encode())
    except ValueError:
        return None
