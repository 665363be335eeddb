"""One class name, one meaning: whoever reads a name in one room must not think of another room's."""

import ast
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

import rampwarden

PACKAGE = Path(rampwarden.__file__).parent


def shared_names(sources: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Give every public class name that more than one of these (module, source) defines, with its modules."""
    places = defaultdict(list)
    for module, source in sources:
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places[node.name].append(module)
    return {name: modules for name, modules in places.items() if len(modules) > 1}


def test_no_two_public_classes_share_a_name() -> None:
    """Classes inside classes and functions too."""
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 200, "the package was found"
    assert shared_names((str(file.relative_to(PACKAGE)), file.read_text(encoding="utf-8")) for file in files) == {}


def test_a_name_that_is_shared_is_found() -> None:
    """So that the test above can fail."""
    two = [("a", "class Finding: ...\nclass _Own: ..."), ("b", "def f():\n    class Finding: ...\nclass _Own: ...")]
    assert shared_names(two) == {"Finding": ["a", "b"]}
