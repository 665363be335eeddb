"""TOML files as they come in: settings, schedules and calibrations, read within bounds.

Policy. Whoever writes such a file writes some kilobytes by hand. What is larger, deeper or longer than anybody would
write, a number that no setting could mean, and the letter NUL, at which every name of a file ends, are refused here,
once for all of them, in one line that says where. Text that is merely odd passes: whatever shows it makes it harmless
(`terminal_text`).
"""

import tomllib
from collections.abc import Mapping
from pathlib import Path

from rampwarden.toml_faults import maybe_fault

# The longest file of ours has 20 kB, comments and all; a schedule of a hundred segments with much to say has 100 kB.
_LONGEST_FILE = 1_048_576
_LONGEST_KEY = 100
# Three times what a terminal shows of an instruction.
LONGEST_TEXT = 4_000
"""Letters of one text in a file."""
_DEEPEST = 8
# A whole number that any clock, board or computer could mean. TOML's own bound is 64 bits; Python has none, but will
# not write more than 4,300 digits.
_LARGEST = 2**63


def read_toml(path: Path) -> dict[str, object]:
    """Read a file; raises `OSError` when it cannot be read, and `ValueError` in one line when it is not to be used."""
    with path.open("rb") as file:
        data = file.read(_LONGEST_FILE + 1)
    return bounded_toml(data)


def bounded_toml(data: bytes) -> dict[str, object]:
    """Read a file's bytes; raises `ValueError` in one line that says what is wrong."""
    if len(data) > _LONGEST_FILE:
        raise ValueError(f"more than {_LONGEST_FILE:,} bytes")
    try:
        # A byte order mark is what some editors begin every file with.
        table = tomllib.loads(data.decode("utf-8-sig"))
    except RecursionError:
        raise ValueError("not a TOML file: too many brackets within each other") from None
    except UnicodeDecodeError as error:
        raise ValueError(f"not a TOML file: {_not_utf8(data, error)}") from None
    except tomllib.TOMLDecodeError as error:
        fault = maybe_fault(data.decode("utf-8-sig"), str(error))
        raise ValueError(f"not a TOML file: {error}" if fault is None else fault) from None
    except ValueError:
        # Python's own bound of digits; its words name a switch of the interpreter.
        raise ValueError("not a TOML file: a number of thousands of digits") from None
    _look_into(table, "", 0)
    return table


def _not_utf8(data: bytes, error: UnicodeDecodeError) -> str:
    """Say where a file is not in UTF-8, and what to do about it."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "it is saved as UTF-16; save it as UTF-8"
    line = data.count(b"\n", 0, error.start) + 1
    meant = " (a ° of another encoding)" if data[error.start] == 0xB0 else ""
    return f"line {line}: byte 0x{data[error.start]:02x}{meant} is not UTF-8; save the file as UTF-8"


def _look_into(value: object, where: str, depth: int) -> None:
    if depth > _DEEPEST:
        raise ValueError(
            f"{where[:_LONGEST_KEY].removesuffix(': ')}: more than {_DEEPEST} tables or lists within each other"
        )
    if isinstance(value, Mapping):
        for key, each in value.items():
            if len(key) > _LONGEST_KEY:
                raise ValueError(
                    f"{where}a key of {len(key):,} letters, {key[:40]!r} and so on; at most {_LONGEST_KEY}"
                )
            _look_at_letters(key, f"{where}a key")
            _look_into(each, f"{where}{key}: ", depth + 1)
    elif isinstance(value, list):
        for each in value:
            _look_into(each, where, depth + 1)
    elif isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            raise ValueError(f"{where}a text of {len(value):,} letters; at most {LONGEST_TEXT:,}")
        _look_at_letters(value, where.removesuffix(": "))
    elif isinstance(value, int) and not -_LARGEST <= value < _LARGEST:
        raise ValueError(f"{where}a whole number beyond 64 bits")


def _look_at_letters(text: str, where: str) -> None:
    if "\0" in text:
        raise ValueError(f"{where}: holds the letter NUL, which ends every name")
