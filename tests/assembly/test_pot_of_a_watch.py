"""What a watch is told of its pot: where it stands and whether its class burns, in the record's header and back."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from rampwarden.assembly.heat_start import fresh_heat
from rampwarden.core.pot import PotHappening, Why
from rampwarden.records import Crucible, Happened, RecordReader, Register, parameters_of
from rampwarden.settings import ProbeSection, Settings, load_settings

SCHEDULE = '[[segment]]\nname = "up"\nkind = "ramp"\nto = "1000 C"\n'


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Give settings with a crucible A3 that burns, and B1 that does not and has been kept damp."""
    (tmp_path / "s.toml").write_text(f'title = "Up"\nheat = "later"\n{SCHEDULE}', encoding="utf-8")
    with Register.open(tmp_path / "crucibles.sqlite", create=True) as books:
        books.add(Crucible("A3", "clay-graphite"))
        today = datetime.now(UTC).date().isoformat()
        damp = Happened(PotHappening.STORED_DAMP, f"{today}T00:00:00Z")
        books.add(Crucible("B1", "fireclay", first_used=today, sheet_top_c=1300.0), [damp])
    flags = {"watch.crucible_register": tmp_path / "crucibles.sqlite", "watch.records": tmp_path / "heats"}
    return load_settings(None, flags, {}).settings


@pytest.mark.parametrize(
    ("mark", "damp_since", "oxidises", "top_c"),
    [("A3", Why.NEW, True, None), ("B1", Why.STORED_DAMP, False, 1300.0)],
)
def test_a_watch_knows_its_pot_and_so_does_whoever_replays_or_takes_it_up(
    mark: str, damp_since: Why, oxidises: bool, top_c: float | None, settings: Settings, tmp_path: Path
) -> None:
    """By the header: the register may have gone on meanwhile."""
    watch = settings.watch.model_copy(update={"crucible": mark})
    heat = fresh_heat(settings.model_copy(update={"watch": watch}), tmp_path / "s.toml", None, lasting=True)
    heat.writer.close()
    with RecordReader(heat.writer.path) as reader:
        known = parameters_of(reader.header, "x")
    assert known.standing is not None
    assert (known.standing.dry, known.standing.damp_since) == (False, damp_since)
    assert (known.oxidises, known.top_c) == (oxidises, top_c)
    assert known == parameters_of(heat.header, "x")
    assert heat.monitor.readiness().ready == "dry-it-first"


def test_without_a_mark_or_a_register_the_schedule_decides(settings: Settings, tmp_path: Path) -> None:
    """A schedule for later heats is given to a pot that has its first behind it."""
    heat = fresh_heat(settings, tmp_path / "s.toml", None, lasting=True)
    heat.writer.close()
    assert parameters_of(heat.header, "x").standing is None
    assert heat.monitor.readiness().ready == "ready-for-a-later-heat"


def test_a_pots_mass_is_told_to_a_watch_of_two_probes_alone(settings: Settings, tmp_path: Path) -> None:
    """The newest weight; of one probe the header stays what it was."""
    with Register.open(tmp_path / "crucibles.sqlite") as books:
        books.add(Crucible("C1", "fireclay", mass_new_kg=5.0))
    alone = settings.model_copy(update={"watch": settings.watch.model_copy(update={"crucible": "C1"})})
    probe = ProbeSection(place="chamber", channel=1)
    found = []
    for each in (alone, alone.model_copy(update={"probes": {"oven": probe}})):
        heat = fresh_heat(each, tmp_path / "s.toml", None, lasting=True)
        heat.writer.close()
        found.append(parameters_of(heat.header, "x").pot_j_per_k)
    assert found == [None, 4500.0]
