"""Deliberate faults, each set in a copy of the project, and which checks catch it.

    python scripts/fault_table.py [name of a fault ...]

Writes tests/FAULTS.md: all of it when all faults are run, else the rows that were run. Exit code 1 when a fault cannot be set or nobody catches it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "tests" / "FAULTS.md"
#: Failures after which the rest of the checks is not run.
ENOUGH = 12


@dataclass(frozen=True)
class Fault:
    what: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]  # files whose checks are run
    checks: str = "outside"  # "outside": checks against something outside the project; "all": every test


FAULTS = tuple(
    Fault(**{**row, "tests": tuple(row["tests"])})
    for row in tomllib.loads(Path(__file__).with_name("faults.toml").read_text(encoding="utf-8"))["fault"]
)


def copy_of_project(to: Path) -> Path:
    copy = to / "main"
    keep = ("nestyield", "tests", "fixtures", "scripts", "pyproject.toml", "README.md", "DEVELOPERS.md")
    copy.mkdir()
    for name in keep:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, copy / name)
    shared = ROOT.parent / "shared" / "bench"
    if shared.exists():
        (to / "shared").mkdir()
        (to / "shared" / "bench").symlink_to(shared)
    return copy


def run_checks(copy: Path, tests: tuple[str, ...], checks: str = "outside") -> list[str]:
    """Run the checks of some files; return the test functions that failed, sorted."""
    log = copy / "failed.txt"
    options = ["-q", "--tb=no", "-p", "no:cacheprovider", "-rfE"]
    options += ["-m", "outside", f"--maxfail={ENOUGH}"] if checks == "outside" else ["--maxfail=2"]
    command = [sys.executable, "-m", "pytest", *options]
    command += [f"tests/{name}" for name in tests]
    env = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(command, cwd=copy, env=env, capture_output=True, text=True, check=False)
    log.write_text(done.stdout)
    if done.returncode not in (0, 1, 2):
        raise RuntimeError(done.stdout + done.stderr)
    lines = [line for line in done.stdout.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    return sorted({line.split()[1].split("[")[0].removeprefix("tests/") for line in lines})


def main() -> int:
    wanted = sys.argv[1:]
    rows, bad = [], False
    with tempfile.TemporaryDirectory() as folder:
        copy = copy_of_project(Path(folder))
        tests = tuple(sorted({name for fault in FAULTS for name in fault.tests}))
        if not wanted and run_checks(copy, tests):
            print("some checks fail without any fault", file=sys.stderr)
            return 1
        for fault in FAULTS:
            if wanted and not any(w in fault.what for w in wanted):
                continue
            path = copy / "nestyield" / fault.file
            sound = path.read_text()
            if fault.old not in sound or fault.old == fault.new:
                print(f"cannot be set, the text is not there: {fault.what}", file=sys.stderr)
                bad = True
                continue
            path.write_text(sound.replace(fault.old, fault.new, 1))
            caught = run_checks(copy, fault.tests, fault.checks)
            path.write_text(sound)
            bad |= not caught
            rows.append((fault, caught))
            print(f"{len(caught):3} {fault.what}: {', '.join(caught[:2]) or 'NOBODY'}", flush=True)
    PAGE.write_text(page(rows, everything=not wanted), encoding="utf-8")
    return int(bad)


def page(rows: list[tuple[Fault, list[str]]], everything: bool) -> str:
    """Return the page: of a run of some faults only the rows of these are new."""
    new = table(rows)
    if everything:
        return new
    ran = {fault.what for fault, _ in rows}
    known = {fault.what for fault in FAULTS}
    lines = [line for line in new.splitlines() if line.startswith("| ") and not line.startswith("| fault")]
    old = PAGE.read_text(encoding="utf-8").splitlines()
    kept = [
        x for x in old if x.startswith("| ") and not x.startswith("| fault") and what_of(x) in known - ran
    ]
    order = {fault.what: k for k, fault in enumerate(FAULTS)}
    head = new.splitlines()[: new.splitlines().index("|---|---|---|---|") + 1]
    return "\n".join([*head, *sorted([*kept, *lines], key=lambda x: order[what_of(x)])]) + "\n"


def what_of(line: str) -> str:
    """Return the fault of a row of the page."""
    return line.split("|")[1].strip()


def table(rows: list[tuple[Fault, list[str]]]) -> str:
    lines = [
        "# Deliberate faults and the checks that catch them",
        "",
        "Made by `python scripts/fault_table.py`: each fault is set alone in a copy of the project, then the",
        f"checks marked `outside` are run, until {ENOUGH} cases have failed. For a fault of the papers all tests of the",
        "named rooms are run, until two have failed.",
        "",
        "| fault | file | checks that catch it | for example |",
        "|---|---|---|---|",
    ]
    for fault, caught in rows:
        names = ", ".join(f"`{name}`" for name in caught[:3]) or "none"
        lines.append(f"| {fault.what} | `{fault.file}` | {len(caught)} | {names} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    raise SystemExit(main())
