"""`rampwarden doctor`: one file for whoever is asked for help; no secret in it, and what is broken stops nothing."""

import stat
from pathlib import Path

from tests.mass_replay.short_heats import short_heat

from command_line import CommandLine
from rampwarden.core.model import Command, CommandName, Event, EventName, Reading
from rampwarden.records import FORMAT, Header, encode_line


def test_what_helps_is_in_one_file_and_no_secret(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Versions, settings that are not default, places, the newest record's last lines; its owner alone may read it."""
    (tmp_path / "heats").mkdir()
    short_heat(tmp_path / "heats", 1, seconds=60)
    (tmp_path / "password").write_text("a secret that nobody may see", encoding="utf-8")
    (tmp_path / "furnace.toml").write_text(
        '[watch]\nnote = "Mrs Someone"\n[mqtt]\nbroker = "localhost"\nuser = "somebody"\npassword_file = "password"\n',
        encoding="utf-8",
    )
    outcome = rampwarden("doctor", "--config", "furnace.toml", "-o", "help.txt")
    assert outcome.output.startswith("help.txt: written; read it before you hand it on")
    path = tmp_path / "help.txt"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    text = path.read_text(encoding="utf-8")
    for part in ("versions", "this computer", "settings", "places", "running watches", "newest record"):
        assert f"== {part}\n" in text
    assert "mqtt.password_file = 'password'  # furnace.toml" in text
    assert "h0001.jsonl" in text
    assert '"kind":"end"' in text.splitlines()[-1]
    for secret in ("a secret that nobody may see", "Mrs Someone", "somebody"):
        assert secret not in text
    refused = rampwarden("doctor", "-o", "help.txt")
    assert (refused.status, refused.errors) == (
        2,
        "rampwarden: help.txt: is there already; give another name with --output\n",
    )


def test_what_people_wrote_into_a_heat_stays_with_them(rampwarden: CommandLine, tmp_path: Path) -> None:
    """In the header, in commands, and in the events that say the same again; a line that cannot be read, too."""
    written = "Mrs Someone's pot"
    lines = [
        Header(FORMAT, "2026-01-01T09:00:00Z", note=written, settings={"watch": {"note": written}}),
        Reading(0.0, temp_c=25.0),
        Command(1.0, CommandName.NOTE, text=written, by=written),
        Event(1.0, EventName.NOTE, text=written),
        Event(1.0, EventName.REFUSED, text=f"mark {written}: not a number"),
        Event(2.0, EventName.ALARM, alarm="ramp-high", text="ramp-high · 40 °C within 15 min, limit 25"),
    ]
    (tmp_path / "heats").mkdir()
    record = b"".join(map(encode_line, lines)) + b'{"kind":"command","text":"' + written.encode()
    (tmp_path / "heats" / "first.jsonl").write_bytes(record)
    rampwarden("doctor", "-o", "help.txt")
    text = (tmp_path / "help.txt").read_text(encoding="utf-8")
    assert "ramp-high · 40 °C within 15 min, limit 25" in text
    assert "letters that cannot be read" in text
    assert "Mrs Someone" not in text


def test_what_is_broken_is_said_in_its_place_and_the_rest_is_told(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Settings that cannot be read, a register that is none, and no folder of records."""
    (tmp_path / "furnace.toml").write_text("[watch]\nrecord = 3\n", encoding="utf-8")
    (tmp_path / "crucibles.sqlite").write_bytes(b"damaged, and long enough to be looked at\n" * 100)
    rampwarden("doctor", "--config", "furnace.toml", "-o", "help.txt")
    text = (tmp_path / "help.txt").read_text(encoding="utf-8")
    assert "cannot be told: furnace.toml: unknown key watch.record; did you mean records?" in text
    assert "register: crucibles.sqlite: is no register; move it aside" in text
    assert "there is none" in text.splitlines()[-1]
