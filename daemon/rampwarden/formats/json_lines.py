"""JSON lines: one object a line, its values named by key, ``a.b.0`` for what lies deeper.

Bounds: the line, four levels, a hundred values, sixteen digits. NaN and null are what the board says where it has no
number: the channel is told as at fault. A key that stands twice is refused.
"""

import json
import re
from collections.abc import Iterator, Mapping

from rampwarden.core.model import Fault
from rampwarden.formats.named import NamedDecoder
from rampwarden.formats.units import Item, item_of

_DEEPEST = 4
_MOST_VALUES = 100
_LONGEST_NUMBER = 24
# As some sketches print it, which no JSON has.
_BARE_NAN = re.compile(rb"(?<=[:,\[ ])-?(?:nan|inf|ovf)\b")

Scalar = float | str | bool | None


class _BadLineError(ValueError):
    """What is wrong with an object, in words."""


class JsonDecoder(NamedDecoder):
    """Decodes JSON lines."""

    longest_line = 2048

    def find(self, line: bytes) -> Mapping[str, Item | str] | None:
        """Give what stands under each wanted key."""
        values = self._values(line)
        if values is None:
            return None
        return {name: _item(values[name]) for name in self._named.names if name in values}

    def names_in(self, line: bytes) -> tuple[str, ...]:
        """Give the keys that a line has."""
        return tuple(self._values(line) or ())

    def _values(self, line: bytes) -> dict[str, Scalar] | None:
        try:
            return values_of(line)
        except _BadLineError as error:
            self.words = str(error)
            return None


def keys_in(line: bytes) -> tuple[str, ...]:
    """Give the keys of the object on a line, a dot between levels; none if it is no such line.

    >>> keys_in(b'{"t":8000,"probes":[{"tc":24.1}]}')
    ('t', 'probes.0.tc')
    """
    try:
        return tuple(values_of(line) or ())
    except _BadLineError:
        return ()


def values_of(line: bytes) -> dict[str, Scalar] | None:
    """Give every value of the object on a line by its path; None if it is no JSON object.

    Raises `_BadLineError`, a ValueError, with what is wrong with an object that has the form.
    """
    if not line.lstrip().startswith(b"{"):
        return None
    try:
        tree = json.loads(
            _BARE_NAN.sub(b"NaN", line).decode("utf-8"),
            object_pairs_hook=_once,
            parse_int=_number,
            parse_float=_number,
            parse_constant=lambda _text: None,
        )
    except _BadLineError:
        raise
    except RecursionError:
        raise _BadLineError(f"lies deeper than {_DEEPEST} levels") from None
    except ValueError:
        return None
    values: dict[str, Scalar] = {}
    for path, value in _leaves(tree, "", 0):
        if len(values) >= _MOST_VALUES:
            raise _BadLineError(f"has more than {_MOST_VALUES} values")
        values[path] = value
    return values


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    table = dict(pairs)
    if len(table) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _BadLineError(f"the key {twice[:30]!a} stands twice in the line")
    return table


def _number(text: str) -> float:
    if len(text) > _LONGEST_NUMBER:
        raise _BadLineError(f"has a number of {len(text)} digits, more than any thermometer")
    return float(text)


def _leaves(value: object, path: str, depth: int) -> Iterator[tuple[str, Scalar]]:
    if depth > _DEEPEST:
        raise _BadLineError(f"lies deeper than {_DEEPEST} levels")
    if isinstance(value, dict | list):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            yield from _leaves(inner, f"{path}.{key}" if path else str(key), depth + 1)
    elif value is None or isinstance(value, float | str | bool):
        yield path, value


def _item(value: Scalar) -> Item | str:
    if value is None:
        return Item(fault=Fault.CONVERTER, text="null")
    if isinstance(value, bool):
        # Right for what tells of a fault; a temperature it is not.
        return Item(float(value), text=str(value).lower(), is_truth=True)
    if isinstance(value, str):
        item = item_of(value)
        return Item(text=value) if isinstance(item, str) and not any(map(str.isdigit, value)) else item
    if value in {float("inf"), float("-inf")}:
        return Item(fault=Fault.CONVERTER, text="inf")
    return Item(value, None, text=f"{value:g}")
