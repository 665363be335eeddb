"""Between the register's rows and the records they stand for; the columns are the records' own fields."""

from collections.abc import Mapping, Sequence
from typing import TypeVar

import msgspec
from msgspec import Struct

from rampwarden.core.pot import PotAccount
from rampwarden.database import Value
from rampwarden.records.crucibles import Crucible, History
from rampwarden.records.figures import HeatFigures, SegmentFigures
from rampwarden.records.register_life import EnteredHeat

T = TypeVar("T")


class RegisteredHeat(Struct, frozen=True):
    """A heat as it was entered, with what was seen of the pot afterwards.

    `account` is what it has shown of its pot, None where it was entered before accounts were kept.
    """

    figures: HeatFigures
    mass_after_kg: float | None = None
    look: str = ""
    account: PotAccount | None = None


CRUCIBLE_COLUMNS = tuple(field.name for field in msgspec.structs.fields(Crucible))
SEGMENT_COLUMNS = tuple(field.name for field in msgspec.structs.fields(SegmentFigures))
# The mark is the crucible's, the segments have a table of their own; the account has a column of its own,
# and the readiness follows from it. Mass and look have theirs too: people may tell them later.
_NO_COLUMNS = ("mark", "segments", "account", "readiness", "mass_after_kg", "look")
HEAT_COLUMNS = tuple(field.name for field in msgspec.structs.fields(HeatFigures) if field.name not in _NO_COLUMNS)

_JSON_COLUMNS = ("alarms", "physics")
"""Fields of a heat that are kept as JSON."""
_TRUTHS = ("rehearsal", "closed", "complete")
"""Fields of a heat that are kept as 1 or 0."""

_REAL = "FROM heat WHERE heat.crucible_id = crucible.id AND rehearsal = 0"
HISTORY = f"""
    (SELECT count(*) {_REAL}),
    (SELECT count(*) FROM heat WHERE heat.crucible_id = crucible.id AND rehearsal = 1),
    (SELECT coalesce(max(started), '') {_REAL}),
    (SELECT max(peak_c) {_REAL}),
    (SELECT coalesce(sum(hot_h), 0.0) {_REAL}),
    (SELECT coalesce(sum(dose_min), 0.0) {_REAL}),
    (SELECT mass_after_kg {_REAL} AND mass_after_kg IS NOT NULL ORDER BY started DESC LIMIT 1)
"""
"""The fields of a `History` in order, for a query over `crucible`. Each reads the index of one crucible's heats."""


def crucible_row(crucible: Crucible) -> dict[str, Value]:
    """Give a crucible as a row."""
    return {**msgspec.structs.asdict(crucible), "sheet": msgspec.json.encode(crucible.sheet).decode()}


def crucible_from(row: Sequence[object]) -> Crucible:
    """Give a crucible from the columns of `CRUCIBLE_COLUMNS`."""
    fields = dict(zip(CRUCIBLE_COLUMNS, row, strict=True))
    return msgspec.convert({**fields, "sheet": _from_json(fields["sheet"], tuple[str, ...])}, Crucible)


def heat_row(figures: HeatFigures) -> dict[str, Value]:
    """Give a heat's figures as a row, without its crucible and segments."""
    fields = msgspec.structs.asdict(figures)
    row = {name: fields[name] for name in HEAT_COLUMNS}
    texts = {name: msgspec.json.encode(fields[name]).decode() for name in _JSON_COLUMNS}
    return {**row, **texts, **{name: int(fields[name]) for name in _TRUTHS}}


def heat_from(row: Sequence[object], mark: str, segments: Mapping[object, list[SegmentFigures]]) -> RegisteredHeat:
    """Give a heat from the columns of `HEAT_COLUMNS`, its id, mass, look, account; `segments` are by the heat's id."""
    *columns, heat_id, mass_after_kg, look, account = row
    fields = dict(zip(HEAT_COLUMNS, columns, strict=True))
    fields |= {name: bool(fields[name]) for name in _TRUTHS}
    fields |= {name: _from_json(fields[name], object) for name in _JSON_COLUMNS}
    fields["mark"] = mark
    fields["segments"] = tuple(segments.get(heat_id, ()))
    figures = msgspec.convert(fields, HeatFigures)
    seen = {"mass_after_kg": mass_after_kg, "look": look, "account": account_from(account)}
    return msgspec.convert({"figures": figures, **seen}, RegisteredHeat)


def history_from(row: Sequence[object]) -> History:
    """Give a history from the columns of `HISTORY`."""
    return msgspec.convert(dict(zip(History.__struct_fields__, row, strict=True)), History)


def entered_from(row: Sequence[object]) -> EnteredHeat:
    """Give what of a heat bears on its pot, from its beginning, seconds, hours and account."""
    started, seconds, hot_h, account = row
    fields = {"started": started, "seconds": seconds, "hot_h": hot_h, "account": account_from(account)}
    return msgspec.convert(fields, EnteredHeat)


def segment_from(row: Sequence[object]) -> SegmentFigures:
    """Give a segment from the columns of `SEGMENT_COLUMNS`."""
    return msgspec.convert(dict(zip(SEGMENT_COLUMNS, row, strict=True)), SegmentFigures)


def whole_numbers(row: Sequence[object]) -> tuple[int, ...]:
    """Give columns that hold whole numbers."""
    return msgspec.convert(tuple(row), tuple[int, ...])


def account_text(account: PotAccount | None) -> str:
    """Give an account as its column holds it."""
    return "" if account is None else msgspec.json.encode(account).decode()


def account_from(text: object) -> PotAccount | None:
    """Give the account that a column holds; None for an empty one."""
    return _from_json(text, PotAccount) if text else None


def _from_json(text: object, kind: type[T]) -> T:
    """Decode a column; raises `msgspec.DecodeError`, whatever another program has written there."""
    try:
        return msgspec.json.decode(str(text), type=kind)
    except RecursionError:
        raise msgspec.DecodeError("too many brackets within each other") from None
