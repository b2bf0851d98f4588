"""What was taken of a plan, by the journal of the shop."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from nestyield.audit.folder import Booked
from nestyield.rackbook.disk import sha
from nestyield.rackbook.journal import read_journal, standing


def booked_of(plan_dir: Path, shop_dir: Path) -> Booked | None:
    """Return what the takes that stand have booked of a plan; None when nothing was taken of it.

    Parameters
    ----------
    plan_dir : Path
        Holds ``plan.json``; one that cannot be read was never taken.
    shop_dir : Path

    Raises
    ------
    RackbookError
        When the journal cannot be read.
    """
    try:
        digest = sha((plan_dir / "plan.json").read_bytes())
    except OSError:
        return None
    mine = [entry for entry in standing(read_journal(shop_dir)) if entry.plan == digest]
    if not mine:
        return None
    pieces: Counter[str] = Counter()
    cut: Counter[str] = Counter()
    files: dict[str, set[str]] = {}
    for entry in mine:
        pieces.update(entry.pieces)
        for change in entry.files:
            files.setdefault(change.name, set()).add(change.after or "")
            if change.name == "shop.toml":
                cut.update(entry.cut)
    return Booked(
        blanks=tuple(blank for entry in mine for blank in entry.blanks),
        leftovers=tuple(name for entry in mine for name in entry.leftovers),
        pieces=dict(pieces),
        cut=dict(cut),
        files=files,
    )
