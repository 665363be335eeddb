"""What the guides show: their commands, what they say these print, and their links. Not a test itself.

A block fenced as `console` is a session at a terminal: a line that begins with `$ ` is a command (`\\` at its end goes
on in the next line), the lines below it are what the command prints. A block fenced as `sh` holds commands alone, one a
line. Four marks say how to compare; the last three are comments that a reader of the page does not see:

    …                                  anything may stand here; alone in its line: any lines, or none
    <!-- varies: 85.0 GB, 44 ms -->    in the next block the digits of these texts may be others
    <!-- file: rampwarden.toml -->     the next block is that file, written before the commands below it are run
    <!-- screen: 80x24 at 2:42:57 -->  the next block's one command draws this on a terminal of that size at that moment
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
GUIDES = (
    "README.md",
    "config/README.md",
    "config/shop/README.md",
    "daemon/README.md",
    "firmware_notes/README.md",
    "replay_logs/README.md",
)

_FENCE = re.compile(r"( *)```(\w*)\s*")
_MARK = re.compile(r" *<!-- (varies|file|screen): (.*) -->\s*")
_LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Block:
    """A fenced block: where it stands, what it is fenced as, the marks before it, and its lines."""

    guide: str
    line: int
    kind: str
    marks: dict[str, str]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A command that a guide shows; `printed` is None where the guide does not say what it prints."""

    place: str
    command: str
    printed: tuple[str, ...] | None
    varies: tuple[str, ...]


def blocks(guide: str, text: str | None = None) -> Iterator[Block]:
    """Give the fenced blocks of a guide in their order; a block that is never closed is a mistake of its writer."""
    marks: dict[str, str] = {}
    inside: list[str] | None = None
    kind, indent, begun = "", 0, 0
    whole = (ROOT / guide).read_text(encoding="utf-8") if text is None else text
    for number, line in enumerate(whole.splitlines(), 1):
        fence = _FENCE.fullmatch(line)
        if inside is None and fence is not None:
            indent, kind, begun, inside = len(fence[1]), fence[2], number, []
        elif inside is not None and fence is not None:
            yield Block(guide, begun, kind, marks, tuple(inside))
            marks, inside = {}, None
        elif inside is not None:
            inside.append(line[indent:])
        elif mark := _MARK.fullmatch(line):
            marks[mark[1]] = mark[2]
    if inside is not None:
        raise ValueError(f"{guide}:{begun}: the block is never closed")


def commands(block: Block) -> Iterator[Shown]:
    """Give the commands of a `console` or `sh` block; one of another kind has none."""
    varies = tuple(text.strip() for text in block.marks.get("varies", "").split(",") if text.strip())
    command, printed, begun, goes_on = "", list[str](), 0, False
    for number, line in enumerate(block.lines, block.line + 1):
        if goes_on:
            command += " " + line.strip()
        elif block.kind == "console" and not line.startswith("$ "):
            printed.append(line)
            continue
        else:
            if command:
                yield _shown(block, begun, command, printed, varies)
            command, printed, begun = line.removeprefix("$ ").strip(), [], number
            if block.kind not in ("console", "sh") or command.startswith("#"):
                command = ""
        goes_on = command.endswith("\\")
        command = command.removesuffix("\\").rstrip()
    if command:
        yield _shown(block, begun, command, printed, varies)


def _shown(block: Block, line: int, command: str, printed: list[str], varies: tuple[str, ...]) -> Shown:
    what = tuple(printed) if block.kind == "console" else None
    return Shown(f"{block.guide}:{line}", command, what, varies)


def agrees(shown: tuple[str, ...], printed: str, varies: tuple[str, ...] = ()) -> bool:
    """Tell whether a command printed what a guide shows, by the marks above; blanks at line ends do not count."""
    found = "".join(f"{line.rstrip()}\n" for line in printed.rstrip().splitlines())
    wanted = list(shown)
    while wanted and not wanted[-1].strip():
        wanted.pop()
    return re.fullmatch("".join(_pattern(line.rstrip(), varies) for line in wanted), found) is not None


def _pattern(line: str, varies: tuple[str, ...]) -> str:
    if line.strip() == "…":
        return r"(?:[^\n]*\n)*?"
    pattern, rest = "", line
    while rest:
        text = next((text for text in varies if rest.startswith(text)), None)
        if text is not None:
            pattern += _DIGITS.sub(r"\\d+", re.escape(text))
            rest = rest.removeprefix(text)
            continue
        pattern += r"[^\n]*" if rest[0] == "…" else re.escape(rest[0])
        rest = rest[1:]
    return pattern + r"\n"


def broken_links(guide: str) -> list[str]:
    """Give the links of a guide that lead nowhere: to a file that is not there, or a heading that its page has not."""
    path = ROOT / guide
    text = path.read_text(encoding="utf-8")
    broken = []
    for link in _LINK.findall(text):
        if link.startswith(("https://", "http://")):
            continue
        file, _, heading = link.partition("#")
        target = path.parent / file if file else path
        if not target.exists() or (heading and heading not in _headings(target)):
            broken.append(f"{guide}: {link}")
    return broken


def _headings(path: Path) -> set[str]:
    """Give the anchors of a page's headings, as the usual renderers make them."""
    headings = re.findall(r"^#+ (.+)$", path.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}
