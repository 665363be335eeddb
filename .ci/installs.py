"""Install the wheel as people do, with each Python there is, and take the demo's heat with what came of it.

pip into an empty environment, without and with extras, and pipx and uv where the registry has them. Everything goes
into folders of its own. Ends with 1 when one did not work.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
NEWEST_FIRST = ("3.14", "3.13", "3.12", "3.11")


def pythons() -> list[str]:
    """Give an interpreter of each version there is."""
    versions = Path.home() / ".pyenv" / "versions"
    found = []
    for version in NEWEST_FIRST:
        choices = [shutil.which(f"python{version}"), *map(str, versions.glob(f"{version}*/bin/python"))]
        found += [choice for choice in choices if choice and _runs(choice, version)][:1]
    return found


def _runs(python: str, version: str) -> bool:
    asked = "import sys, venv; print('%d.%d' % sys.version_info[:2])"
    done = subprocess.run([python, "-c", asked], check=False, capture_output=True, text=True)
    return done.returncode == 0 and done.stdout.strip() == version


def ran(folder: str | Path, *command: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a folder, and without a path to this one: pip and Python would take it for what is installed."""
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    arguments = [str(argument) for argument in command]
    return subprocess.run(
        arguments, check=False, capture_output=True, text=True, cwd=folder, env={**clean, **environment}
    )


def said(*command: str | Path, **environment: str) -> str:
    """Run a command and give its last line; raises where it failed."""
    done = ran("/", *command, **environment)
    lines = [line for line in (done.stdout + done.stderr).splitlines() if line.strip()] or [""]
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, command[:3]))} ended with {done.returncode}: {lines[-1]}")
    return lines[-1]


def heat(program: Path, folder: Path) -> str:
    """Take the demo's heat with an installed program, far from this folder; its alarms are the point of it."""
    options = ("--speed", "2000", "--fault", "fast-ramp", "--record", folder / "r.jsonl")
    done = ran(folder, program, "rehearse", "bronze-first-heat", *options)
    if done.returncode != 1 or "ramp-high" not in done.stdout:
        raise RuntimeError(f"the heat ended with {done.returncode}: {done.stderr.strip()[-200:]}")
    return "took the demo's heat"


def by_pip(python: str, wheel: Path, extras: str, folder: Path) -> str:
    """Install into an empty environment."""
    said(python, "-m", "venv", folder / "env")
    said(folder / "env/bin/pip", "install", "--quiet", "--disable-pip-version-check", f"{wheel}{extras}")
    said(folder / "env/bin/rampwarden", "--version")
    return heat(folder / "env/bin/rampwarden", folder)


def by_tool(python: str, wheel: Path, tool: str, folder: Path) -> str:
    """Install by a tool that keeps an environment for each program."""
    said(sys.executable, "-m", "venv", folder / "tool")
    said(folder / "tool/bin/pip", "install", "--quiet", "--disable-pip-version-check", tool)
    places = {"PIPX_HOME": str(folder / "home"), "PIPX_BIN_DIR": str(folder / "bin")}
    places |= {
        "UV_TOOL_DIR": str(folder / "home"),
        "UV_TOOL_BIN_DIR": str(folder / "bin"),
        "UV_PYTHON_DOWNLOADS": "never",
    }
    asked = ["install", "--python", python, wheel] if tool == "pipx" else ["tool", "install", "--python", python, wheel]
    said(folder / "tool/bin" / tool, *asked, **places)
    return heat(folder / "bin/rampwarden", folder)


def main() -> int:
    """Print one row a way."""
    failed = 0
    with tempfile.TemporaryDirectory() as place:
        said(sys.executable, "-m", "build", "--quiet", "--wheel", "--outdir", place, ROOT)
        (wheel,) = Path(place).glob("*.whl")
        ways = [
            (python, f"pip install{extras}", extras) for python in pythons() for extras in ("", "[report,page,modbus]")
        ]
        ways += [(pythons()[0], tool, "") for tool in ("pipx", "uv")]
        for python, way, extras in ways:
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                try:
                    came = by_pip(python, wheel, extras, folder) if " " in way else by_tool(python, wheel, way, folder)
                except (RuntimeError, OSError) as error:
                    failed, came = failed + 1, f"FAILED: {error}"
            print(f"{said(python, '--version'):16} {way:28} {came}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
