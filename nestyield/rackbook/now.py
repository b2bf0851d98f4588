"""The shop folder as it is now."""

from __future__ import annotations

from pathlib import Path

from nestyield.intake.shop import read_shop
from nestyield.model import Shop
from nestyield.rackbook.errors import RackbookError


def shop_now(folder: Path) -> Shop:
    """Read a shop folder; RackbookError tells the first errors when it cannot be used."""
    shop, findings = read_shop(folder)
    if shop is None:
        errors = [str(f) for f in findings if f.severity == "error"]
        more = f"; and {len(errors) - 3} more" if len(errors) > 3 else ""
        raise RackbookError(f"the shop folder cannot be read: {'; '.join(errors[:3])}{more}")
    return shop
