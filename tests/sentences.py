"""Every sentence the program can print, in one list: to be read aloud, and mended where a reader pauses.

    python tests/sentences.py        print them, by file (make sentences)

Taken from the source: texts that are no docstrings and hold at least two words, a value that is filled in as `…`; and
the words of the page. What a test or a guide says is not the program's.
"""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "daemon" / "rampwarden"
_HOLE = "…"
# Statements of a database, styles and markup are for programs.
_FOR_PROGRAMS = re.compile(
    r"(\(?SELECT|INSERT INTO|UPDATE|DELETE FROM|CREATE|ALTER TABLE|FROM) |<|@page|body \{|default-src"
)
_TWO_WORDS = re.compile(r"[A-Za-z]{2,}[,:;]? +(?:\S+ +)*[A-Za-z…'(]{2,}")
_JS_TEXT = re.compile(r"\"((?:[^\"\\\n]|\\.)*)\"|`((?:[^`\\]|\\.)*)`")
_JS_FILLED = re.compile(r"\$\{(?:[^{}]|\{[^{}]*\})*\}")
_TAGS = re.compile(r"<(script|style)\b.*?</\1>|<[^>]+>", re.DOTALL)


def sentences() -> dict[str, list[str]]:
    """Give them by file, each once, in the order in which they stand there."""
    found = {}
    for path in sorted(PACKAGE.rglob("*")):
        reader = {".py": _of_python, ".js": _of_script, ".html": _of_page}.get(path.suffix)
        if reader is None:
            continue
        said = list(dict.fromkeys(text for text in reader(path.read_text(encoding="utf-8")) if _is_read(text)))
        if said:
            found[str(path.relative_to(PACKAGE))] = said
    return found


def _is_read(text: str) -> bool:
    return _TWO_WORDS.search(text) is not None and _FOR_PROGRAMS.match(text) is None


def _of_python(source: str) -> Iterator[str]:
    tree = ast.parse(source)
    silent = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            # What stands within it is told with it.
            silent |= {id(part) for part in ast.walk(node) if part is not node}
    for node in ast.walk(tree):
        if id(node) in silent:
            continue
        if isinstance(node, ast.JoinedStr):
            yield _tidied("".join(_part(value) for value in node.values))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield _tidied(node.value)


def _part(value: ast.expr) -> str:
    return str(value.value) if isinstance(value, ast.Constant) else _HOLE


def _of_script(source: str) -> Iterator[str]:
    code = "\n".join(line for line in source.split("\n") if not line.lstrip().startswith(("//", "import ")))
    for match in _JS_TEXT.finditer(code):
        yield _tidied(_JS_FILLED.sub(_HOLE, match.group(1) or match.group(2) or ""))


def _of_page(source: str) -> Iterator[str]:
    for text in _TAGS.sub("\n", source).split("\n"):
        yield _tidied(text)


def _tidied(text: str) -> str:
    return " ".join(text.split())


def main() -> int:
    """Print them."""
    for name, said in sentences().items():
        print(f"\n{name}")
        for text in said:
            print(f"  {text}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
