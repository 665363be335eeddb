"""What `make mutants` breaks, and which tests it runs for it."""

import ast

import pytest

from benchmarks.mutant_guards import Kind, guards_of
from benchmarks.mutant_tests import ROOT, SOURCES, Selection


def broken(source: str) -> list[str]:
    """Give the source with each of its guards broken, one at a time."""
    return [guard.break_in(source) for guard in guards_of("x.py", source)]


@pytest.mark.parametrize(
    ("source", "changed"),
    [
        ("a < b", "(a >= b)"),
        ("a is not None", "(a is None)"),
        ("a not in b", "(a in b)"),
        ("1 <= n < 5", "(not (1 <= n < 5))"),
        ("min(a, 1)", "max(a, 1)"),
        ("numpy.maximum(a, 0.0)", "numpy.minimum(a, 0.0)"),
        ("numpy.clip(a + 1, 0, 9)", "(a + 1)"),
        ("deque(maxlen=40)", "deque(maxlen=None)"),
        ("Queue(maxsize=4)", "Queue(maxsize=0)"),
        ("os.fsync(file.fileno())", "None"),
        ("file.flush()", "None"),
    ],
)
def test_a_guard_is_broken_for_certain_and_not_by_a_hair(source: str, changed: str) -> None:
    """`<` becomes `>=`; `<=` would often do as well."""
    assert broken(f"it = {source}\n") == [f"it = {changed}\n"]


def test_a_raise_falls_through() -> None:
    """Also one that spans lines, and one that passes an error on."""
    assert broken('if bad:\n    raise ValueError(\n        "bad"\n    )\n') == ["if bad:\n    pass\n"]
    assert broken("try:\n    f()\nexcept E:\n    raise\n") == ["try:\n    f()\nexcept E:\n    pass\n"]


def test_letters_beyond_ascii_before_a_guard_do_not_move_it() -> None:
    """Python counts columns in bytes."""
    assert broken('it = "25 °C" if a == b else "µV"\n') == ['it = "25 °C" if (a != b) else "µV"\n']


def test_what_is_no_program_has_no_guards() -> None:
    """Docstrings with their examples, blocks for type checkers and for being run."""
    documented = '"""Doc.\n\n>>> 1 < 2\nTrue\n"""\n'
    aside = 'if TYPE_CHECKING:\n    import a\nif __name__ == "__main__":\n    raise SystemExit\n'
    assert guards_of("x.py", documented + aside) == []


def test_every_guard_of_the_package_can_be_broken_into_a_program_that_differs() -> None:
    """Nothing is drawn that would only be a syntax error, or nothing at all."""
    kinds = set()
    for path in sorted(SOURCES.rglob("*.py"))[::21]:
        source = path.read_text(encoding="utf-8")
        whole = ast.dump(ast.parse(source))
        for guard in guards_of(path.name, source):
            assert ast.dump(ast.parse(guard.break_in(source))) != whole, guard
            kinds.add(guard.kind)
    assert kinds >= {Kind.COMPARISON, Kind.BOUND, Kind.RAISE}


def test_the_tests_that_mirror_a_module_come_first() -> None:
    """By path and by name: a test file named after a module in the same folder is its mirror."""
    selection = Selection()
    tests = {path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py")}
    mirrored = 0
    for path in sorted(SOURCES.rglob("*.py")):
        own = f"tests/{path.parent.relative_to(SOURCES).as_posix()}/test_{path.stem}.py".replace("/./", "/")
        if own in tests:
            mirrored += 1
            assert selection.mirrors(path.relative_to(ROOT).as_posix())[0] == own
    assert mirrored > 50
