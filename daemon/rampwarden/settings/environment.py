"""What environment variables say, as a tree of text: loaded only where there are any of ours.

What a list or a section may look like is the model's business, not JSON's: every value stays the text it is.
"""

from collections.abc import Mapping

from pydantic.fields import FieldInfo
from pydantic_settings import BaseSettings, EnvSettingsSource, SettingsConfigDict

from rampwarden.settings.sections import Settings


class _SettingsOfVariables(Settings, BaseSettings):
    """The whole tree, as the library wants it; nobody makes one."""

    model_config = SettingsConfigDict(extra="forbid", frozen=True)


class _Variables(EnvSettingsSource):
    def decode_complex_value(self, field_name: str, field: FieldInfo, value: object) -> object:
        return value


def tree_of(variables: Mapping[str, str], *, prefix: str, delimiter: str) -> dict[str, object]:
    """Give the tree that `variables` make, whose names begin with `prefix` and part their levels by `delimiter`."""
    source = _Variables(_SettingsOfVariables, case_sensitive=False, env_prefix=prefix, env_nested_delimiter=delimiter)
    source.env_vars = {name.lower(): value for name, value in variables.items()}
    return dict(source())
