"""Faces that import what is asked of them give every name they list, and nothing of another's."""

import ast
import importlib
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import rampwarden
from rampwarden.lazy_face import lazy_face

PACKAGE = Path(rampwarden.__file__).parent
LAZY = sorted(
    ".".join(("rampwarden", *file.parent.relative_to(PACKAGE).parts))
    for file in PACKAGE.rglob("__init__.py")
    if "lazy_face(" in file.read_text(encoding="utf-8")
)


def imported_for_checkers(package: str) -> dict[str, str]:
    """Give each name that a face imports for type checkers, with its module, as Python reads it."""
    tree = ast.parse(Path(str(importlib.import_module(package).__file__)).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    lines = (node for node in block.body if isinstance(node, ast.ImportFrom))
    return {alias.name: str(node.module) for node in lines for alias in node.names}


@pytest.mark.parametrize("package", LAZY)
def test_every_name_is_had_from_the_module_that_is_named(package: str) -> None:
    """What a type checker sees and what runs are the same."""
    face = importlib.import_module(package)
    names = imported_for_checkers(package)
    assert names, package
    for name, module in names.items():
        assert getattr(face, name) is getattr(importlib.import_module(module), name)
    assert all(hasattr(face, name) for name in face.__all__)


def test_a_face_loads_nothing_before_it_is_asked() -> None:
    """Else it would not be lazy; there are some, or these tests tested nothing."""
    assert len(LAZY) > 10
    told = subprocess.run(
        [sys.executable, "-c", f"import sys, {', '.join(LAZY)}; print('rampwarden.core.monitor' in sys.modules)"],
        check=True,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert told.stdout == "False\n"


def test_a_name_that_is_not_in_the_face_is_refused() -> None:
    """As any module refuses it."""
    face = importlib.import_module("rampwarden.records")
    with pytest.raises(AttributeError, match="has no attribute 'Nonsense'"):
        _ = face.Nonsense


def test_a_name_that_its_module_would_hide_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever loads the module first would find it in place of the function."""
    face = made_package(tmp_path, monkeypatch, "if TYPE:\n    from hiding.doubt import doubt\n")
    with pytest.raises(TypeError, match="doubt would be hidden by the module of that name"):
        lazy_face(face.__name__)


def made_package(folder: Path, monkeypatch: pytest.MonkeyPatch, source: str) -> ModuleType:
    """Give a package `hiding` with such a face; it is gone after the test."""
    (folder / "hiding").mkdir()
    (folder / "hiding" / "__init__.py").write_text(f"TYPE = False\n{source}", encoding="utf-8")
    monkeypatch.syspath_prepend(folder)
    package = importlib.import_module("hiding")
    monkeypatch.delitem(sys.modules, "hiding")
    monkeypatch.setitem(sys.modules, "hiding", package)
    return package
