"""A register carried over to another place, file or server, and back: all of it, in one transaction, or nothing.

What stands there already is left as it is. Where it is not the same, the whole is refused: of two registers that say
different things of one pot nobody but its owner knows which is right. Read back before it lasts.
"""

from dataclasses import dataclass

from rampwarden.core.quantities import counted
from rampwarden.errors import RegisterError, UnknownMarkError
from rampwarden.records.crucibles import Crucible
from rampwarden.records.register import Register
from rampwarden.records.register_life import Happened
from rampwarden.records.register_rows import RegisteredHeat, account_text, crucible_row, heat_row


@dataclass(frozen=True, slots=True)
class Carried:
    """How much of a register was carried over, and how much was there already."""

    crucibles: int = 0
    heats: int = 0
    there_already: int = 0

    @property
    def sentence(self) -> str:
        """Say it."""
        already = f"; {counted(self.there_already, 'one heat', 'heats')} there already" if self.there_already else ""
        crucibles = counted(self.crucibles, "one crucible", "crucibles")
        return (
            f"{crucibles} and {counted(self.heats, 'one heat', 'heats')} carried over, and read back the same{already}"
        )


@dataclass(frozen=True, slots=True)
class _Pot:
    crucible: Crucible
    happened: list[Happened]
    heats: list[RegisteredHeat]


def carry_over(source: Register, target: Register) -> Carried:
    """Carry everything over; the source stays as it is. Raises `RegisterError`, and then nothing was changed."""
    # Whoever would enter something meanwhile waits: it would be left behind.
    with source.database.changing(), target.database.changing():
        pots = [_pot(source, crucible.mark) for crucible, _ in source.crucibles()]
        known = {heat_id: mark for mark, heat_id in _entered(target)}
        crucibles = heats = already = 0
        for pot in pots:
            there = _pot_or_none(target, pot.crucible.mark)
            _refuse_contradictions(target, pot, there, known)
            number = _place(target, pot) if there is None else _number(target, pot.crucible.mark)
            crucibles += there is None
            present = set() if there is None else {heat.figures.record_id for heat in there.heats}
            for heat in pot.heats:
                if heat.figures.record_id in present:
                    already += 1
                else:
                    _write(target, number, heat)
                    heats += 1
            for each in pot.happened:
                if there is None or each not in there.happened:
                    row = {"what": str(each.what), "at": each.at, "note": each.note}
                    target.database.insert_numbered("happening", {"crucible_id": number, **row})
        for pot in pots:
            _read_back(target, pot)
    return Carried(crucibles, heats, already)


def _pot(books: Register, mark: str) -> _Pot:
    return _Pot(books.crucible(mark), books.happenings(mark), books.heats(mark))


def _pot_or_none(books: Register, mark: str) -> _Pot | None:
    try:
        return _pot(books, mark)
    except UnknownMarkError:
        return None


def _entered(books: Register) -> list[tuple[str, str]]:
    query = "SELECT mark, record_id FROM heat JOIN crucible ON crucible.id = crucible_id"
    return [(str(mark), str(record_id)) for mark, record_id in books.database.rows(query)]


def _refuse_contradictions(target: Register, pot: _Pot, there: _Pot | None, known: dict[str, str]) -> None:
    mark = pot.crucible.mark
    end = "nothing was changed"
    if there is not None and there.crucible != pot.crucible:
        raise RegisterError(f"{target.name}: the crucible {mark} is there already and is not the same; {end}")
    heats = {} if there is None else {heat.figures.record_id: heat for heat in there.heats}
    for heat in pot.heats:
        record_id = heat.figures.record_id
        if record_id in known and record_id not in heats:
            raise RegisterError(f"{target.name}: the heat {record_id} is entered there for {known[record_id]}; {end}")
        if record_id in heats and heats[record_id] != heat:
            raise RegisterError(f"{target.name}: the heat {record_id} is there already and is not the same; {end}")


def _number(books: Register, mark: str) -> int:
    row = books.database.row("SELECT id FROM crucible WHERE mark = :mark", mark=mark)
    return 0 if row is None else int(str(row[0]))


def _place(target: Register, pot: _Pot) -> int:
    return target.database.insert_numbered("crucible", crucible_row(pot.crucible))


def _write(target: Register, number: int, heat: RegisteredHeat) -> None:
    row = {**heat_row(heat.figures), "crucible_id": number, "mass_after_kg": heat.mass_after_kg, "look": heat.look}
    heat_id = target.database.insert_numbered("heat", {**row, "account": account_text(heat.account)})
    for segment in heat.figures.segments:
        fields = {name: getattr(segment, name) for name in segment.__struct_fields__}
        target.database.insert("segment", {"heat_id": heat_id, **fields})


def _read_back(target: Register, pot: _Pot) -> None:
    """Look whether everything of a pot is there as it was; a heat that only the target has is none of our business."""
    there = _pot(target, pot.crucible.mark)
    heats = {heat.figures.record_id: heat for heat in there.heats}
    same = all(heats.get(heat.figures.record_id) == heat for heat in pot.heats)
    if there.crucible != pot.crucible or not same or any(each not in there.happened for each in pot.happened):
        raise RegisterError(f"{target.name}: {pot.crucible.mark} does not read back as it was; nothing was changed")
