"""`rampwarden try`: one rehearsal for whoever has just installed it, and what comes next."""

from pathlib import Path

from command_line import SCHEDULE, CommandLine


def test_it_rehearses_and_ends_with_the_next_three_commands(rampwarden: CommandLine) -> None:
    """Its mishap rings, its status is 0 all the same, and nothing is left where it was called."""
    Path("heat.toml").write_text(SCHEDULE)
    outcome = rampwarden("try", "heat.toml", "--speed", "10000")
    assert outcome.status == 0
    assert "ramp-high" in outcome.output
    lines = outcome.output.splitlines()
    assert not any(line.startswith("{") for line in lines)  # in a pipe, too: a demonstration is to be read
    assert lines[-7] == "That was a rehearsal against a model furnace. Next:"
    assert [line.split()[:2] for line in lines[-6::2]] == [
        ["rampwarden", "schedule"],
        ["rampwarden", "rehearse"],
        ["rampwarden", "board"],
    ]
    assert [path.name for path in Path.cwd().iterdir()] == ["heat.toml"]
