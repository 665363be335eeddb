"""`rampwarden settings`: what is in force, and where each value came from."""

import os
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.settings import CONFIG_VARIABLE, leaves, load_settings

ConfigOption = Annotated[
    Path | None, typer.Option("--config", envvar=CONFIG_VARIABLE, help="Settings file (TOML).", show_default=False)
]


def show_settings(config: ConfigOption = None) -> None:
    """Print the effective settings and where each came from."""
    loaded = load_settings(config, {}, os.environ)
    for path, value in leaves(loaded.settings.model_dump(mode="json")):
        typer.echo(f"{path} = {value!r}  # {loaded.origins.get(path, 'default')}")
