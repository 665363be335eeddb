"""Builds the C reference for tests and benchmarks, without a warning. Not a test itself."""

import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "firmware_notes" / "reference"
HERE = Path(__file__).resolve().parent
STRICT = (
    "-std=c99",
    "-pedantic",
    "-Wall",
    "-Wextra",
    "-Wconversion",
    "-Wsign-conversion",
    "-Wshadow",
    "-Werror",
)
SANITIZED = ("-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-fno-omit-frame-pointer")


def compiler() -> str | None:
    """Give a C compiler; None where there is none."""
    return shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")


def build(folder: Path, name: str, sources: list[Path], *flags: str) -> Path:
    """Give the program `name` built of `sources` in `folder`; raises where the compiler says anything at all."""
    program = folder / name
    command = [compiler() or "cc", *STRICT, *flags, f"-I{REFERENCE}", "-o", str(program), *map(str, sources)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode or done.stderr:
        raise AssertionError(f"{name}: {done.stderr}")
    return program


def fuzzed(folder: Path, size: int, seed: int) -> str:
    """Throw `size` bytes at parser and encoder under sanitizers; gives what came of it, raises where anything broke."""
    sources = [HERE / "fuzz_main.c", REFERENCE / "tc_command.c", REFERENCE / "tc_frame.c"]
    program = build(folder, "fuzz", sources, *SANITIZED)
    done = subprocess.run([program, str(size), str(seed)], capture_output=True, text=True, check=False, timeout=600)
    if done.returncode:
        raise AssertionError(f"exit {done.returncode}: {done.stdout}{done.stderr}")
    return done.stdout.strip()
