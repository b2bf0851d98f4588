"""A folder of dated runs: names, which is the last, and letting old ones go."""

from __future__ import annotations

import datetime
import re
import shutil
from pathlib import Path

from nestyield.model import Plan
from nestyield.planfile import PlanFileError, loads
from nestyield.planfile.folder import PLAN, OutputError, check_replaceable

SUMMARY_TEXT = "summary.txt"
SUMMARY_JSON = "summary.json"
_NAME = re.compile(r"(\d{4}-\d{2}-\d{2})(?:-(\d+))?")


def runs_in(folder: Path) -> list[Path]:
    """Return the run folders, oldest first; other folders are not looked at."""
    if not folder.is_dir():
        return []
    found = [(_key(p.name), p) for p in folder.iterdir() if p.is_dir() and (p / SUMMARY_JSON).is_file()]
    return [p for key, p in sorted((k, p) for k, p in found if k is not None)]


def next_name(folder: Path, date: datetime.date) -> str:
    """Return the name for a run of a day: the date, with ``-2``, ``-3`` ... when it is there already."""
    day = date.isoformat()
    number = 1
    while (folder / (day if number == 1 else f"{day}-{number}")).exists():
        number += 1
    return day if number == 1 else f"{day}-{number}"


def last_plan(folder: Path) -> Plan | None:
    """Return the plan of the last run that can be read, None when there is none."""
    for run in reversed(runs_in(folder)):
        try:
            return loads((run / PLAN).read_bytes())
        except (OSError, PlanFileError):
            continue
    return None


def let_go(folder: Path, keep_last: int) -> tuple[str, ...]:
    """Remove all but the last runs.

    Parameters
    ----------
    folder : Path
    keep_last : int
        At least 1.

    Returns
    -------
    tuple of str
        Runs that stay although they are old: somebody added to or changed something in them.
    """
    stay = []
    for run in runs_in(folder)[:-keep_last]:
        try:
            check_replaceable(run)
        except OutputError:
            stay.append(run.name)
            continue
        bin_ = run.with_name(f".{run.name}-old")
        run.rename(bin_)
        shutil.rmtree(bin_)
    for rest in folder.glob(".*-old"):
        if _key(rest.name[1:-4]) is not None:
            shutil.rmtree(rest, ignore_errors=True)
    return tuple(stay)


def _key(name: str) -> tuple[str, int] | None:
    match = _NAME.fullmatch(name)
    return (match[1], int(match[2] or 1)) if match else None
