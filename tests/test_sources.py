"""The list of sources is complete: what the code cites stands in it, and what stands in it is cited."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
LIST = ROOT / "daemon" / "SOURCES.md"
PLACES = ("daemon", "tests", "firmware_notes", "config")
ROW = re.compile(r"^\| `([^`]+)` \| (.+) \| .+ \|$", re.MULTILINE)
# Whatever looks like a standard, a laboratory's report or a data series is a citation, wherever it stands.
STANDARD = re.compile(
    r"\b(?:IEC \d{4,}(?:-\d+)?|ASTM E ?\d+|JCGM \d+:\d+|ORNL-[A-Z]+-\d+|VDI/VDE \d+|VDI [A-Z]\w+ Atlas|ISA-\d[\d.]*\d"
    r"|ISO \d{4,}|CODATA \d+|Monograph \d+|SRD \d+|ITS-90)"
)
# A work as it is cited: two names or three, then its title or its year. One journal has the same form.
AUTHORS = re.compile(r"\b(?<!Nuclear )([A-ZÄÖÜ]\w+(?:, [A-Z]\w+)? and [A-Z]\w+)(?=, [A-Z]\w+| \d{4})")
SOURCE = re.compile(r"\bSources?: (.{10,400}?)(?:\"\"\"|\n\s*\n|\n\s*#?\s*\n|$)", re.DOTALL)
UNLISTED = ("see the top of this file", "any physics text")


def citing_texts() -> dict[str, str]:
    """Give every text that may cite, by its path, except the list and this file."""
    found = {}
    for place in PLACES:
        for path in sorted((ROOT / place).rglob("*")):
            if path.suffix not in (".py", ".md", ".toml") or path in (LIST, Path(__file__)) or not path.is_file():
                continue
            if "output" not in path.relative_to(ROOT).parts:
                found[str(path.relative_to(ROOT))] = path.read_text(encoding="utf-8")
    return found


TEXTS = citing_texts()
ROWS = dict(ROW.findall(LIST.read_text(encoding="utf-8")))


def unbroken(text: str) -> str:
    """Give a text without the breaks of its lines and the marks of comments."""
    return re.sub(r"\s*\n\s*(?:#\s+)?", " ", text)


def test_every_row_of_the_list_is_read() -> None:
    """A row that the pattern does not match would be held to nothing."""
    assert len(ROWS) == LIST.read_text(encoding="utf-8").count("\n| `")
    assert len(ROWS) > 20


@pytest.mark.parametrize("key", ROWS)
def test_what_stands_in_the_list_is_cited(key: str) -> None:
    """A source that nothing rests on any more is taken out."""
    assert any(key in unbroken(text) for text in TEXTS.values())


@pytest.mark.parametrize("key", ROWS)
def test_each_work_has_its_year_or_says_that_it_is_not_at_hand(key: str) -> None:
    """Nobody guesses one."""
    work = ROWS[key]
    assert re.search(r"\b(19|20)\d\d\b", work) or "not at hand" in work or "not named" in work or key == "SRD 60"


@pytest.mark.parametrize("path", TEXTS)
def test_every_citation_stands_in_the_list(path: str) -> None:
    """Standards and reports by their numbers, papers by their authors, and whatever follows the word Source."""
    text = unbroken(TEXTS[path])
    cited = {*STANDARD.findall(text), *AUTHORS.findall(text)}
    missing = sorted(each for each in cited if not any(key in each or each in key for key in ROWS))
    assert missing == []
    for after in SOURCE.findall(TEXTS[path]):
        named = unbroken(after)
        assert any(key in named for key in ROWS) or any(words in named for words in UNLISTED), named
