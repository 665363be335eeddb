"""What is written out of the alarms' entries: the README's table and the sections of the example settings.

    python tests/alarm_tables.py        write both anew (make tables)

`test_alarm_tables.py` holds them against the entries, together with every other list of alarms.
"""

import sys
import textwrap
from pathlib import Path

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.catalogue import ENTRIES

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
EXAMPLE = ROOT / "config" / "rampwarden.toml"

README_BEGINS, README_ENDS = "<!-- alarms: generated -->\n", "<!-- /alarms -->\n"
SETTINGS_BEGIN = "# From here to the end: written by `make tables` from what the code says of each alarm.\n"


def readme_table() -> str:
    """Give the table of alarms as the README shows it."""
    rows = [f"| {each.name} | {each.priority} | {each.condition} | {each.action} |\n" for each in ENTRIES]
    return "| alarm | priority | raised when | do |\n|---|---|---|---|\n" + "".join(rows)


def settings_sections() -> str:
    """Give one section an alarm, switched off, as the example settings show them."""
    return "".join(f"\n{_section(entry)}" for entry in ENTRIES)


def with_table(readme: str) -> str:
    """Put the table between its marks; raises `ValueError` where they are missing."""
    before, begins, rest = readme.partition(README_BEGINS)
    _, ends, after = rest.partition(README_ENDS)
    if not begins or not ends:
        raise ValueError(f"no {README_BEGINS.strip()} with a {README_ENDS.strip()} after it")
    return before + begins + readme_table() + ends + after


def with_sections(settings: str) -> str:
    """Put the sections after their mark; raises `ValueError` where it is missing."""
    before, begins, _ = settings.partition(SETTINGS_BEGIN)
    if not begins:
        raise ValueError(f"no line {SETTINGS_BEGIN.strip()!r}")
    return before + begins + settings_sections()


def _section(entry: AlarmEntry) -> str:
    about = f"{_sentence(entry.condition)} {_sentence(entry.about_delays)}"
    comment = textwrap.fill(about, width=120, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)
    return (
        f"{comment}\n"
        f"#[alarms.{entry.name}]\n"
        f'#priority = "{entry.priority}"\n'
        f'#on_delay = "{entry.on_delay_s:g} s"\n'
        f'#off_delay = "{entry.off_delay_s:g} s"\n'
        "#out_of_service = false\n"
    )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def main() -> int:
    """Write both files anew."""
    for path, renewed in ((README, with_table), (EXAMPLE, with_sections)):
        text = path.read_text(encoding="utf-8")
        new = renewed(text)
        if new != text:
            path.write_text(new, encoding="utf-8")
        print(f"{path.relative_to(ROOT)}: {'as it was' if new == text else 'written anew'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
