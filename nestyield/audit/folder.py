"""The files of a finished plan, and the shop folder that it was made from."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Protocol

from nestyield.intake.shop import read_shop
from nestyield.model import Finding, Order, Piece, Plan, Settings, Severity, Shop
from nestyield.model.same_orders import same_orders
from nestyield.planfile import PlanFileError, read
from nestyield.planfile.folder import PLAN, SUMS

#: A larger plan.json is not read, bytes.
LARGEST_PLAN = 1 << 30
#: Files that every plan comes with.
ALWAYS = ("report.html", "cuts.csv", "leftovers.csv")


def found(
    code: str, message: str, *, file: str = PLAN, where: str = "", severity: Severity = "error"
) -> Finding:
    """Make a finding of the audit."""
    return Finding(code=code, severity=severity, message=message, file=file, where=where)


def read_plan(folder: Path) -> tuple[Plan | None, list[Finding]]:
    """Read ``plan.json`` of a folder; None with the reason when it cannot be read."""
    if not folder.is_dir():
        what = "is a file" if folder.exists() else "does not exist"
        return None, [
            found("A001", f"expected the folder of a finished plan; {folder.name!r} {what}", file="")
        ]
    path = folder / PLAN
    if not path.is_file():
        return None, [found("A001", f"expected a {PLAN} in the folder; there is none")]
    try:
        if path.stat().st_size > LARGEST_PLAN:
            return None, [found("A002", f"expected at most {LARGEST_PLAN} bytes, got {path.stat().st_size}")]
        data = path.read_bytes()
    except OSError as error:
        return None, [found("A001", f"cannot be read: {error.strerror}")]
    try:
        plan, stated, given = read(data)
    except PlanFileError as error:
        return None, [found("A002", str(error))]
    except (ArithmeticError, ValueError, TypeError, RecursionError, MemoryError) as error:
        return None, [found("A002", f"is no plan: {type(error).__name__}: {error}")]
    findings = []
    if stated != given:
        findings.append(
            found("A003", "the inputs in this plan were changed after it was written; make the plan again")
        )
    return plan, findings


def check_files(folder: Path) -> list[Finding]:
    """Compare the files of a folder with the list of sums written with them."""
    findings = []
    for name in ALWAYS:
        if not (folder / name).is_file():
            findings.append(found("A007", "belongs to every plan, and is missing", file=name))
    path = folder / SUMS
    if not path.is_file():
        return [
            *findings,
            found("A008", "is missing, so changed files cannot be told", file=SUMS, severity="warning"),
        ]
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError as error:
        return [*findings, found("A008", f"cannot be read: {error.strerror}", file=SUMS, severity="warning")]
    for line in lines:
        stated, _, name = line.partition("  ")
        try:
            inside = bool(name) and (folder / name).resolve().is_relative_to(folder.resolve())
            exists = inside and (folder / name).is_file()
            same = exists and hashlib.sha256((folder / name).read_bytes()).hexdigest() == stated
        except (OSError, ValueError):
            inside = False
        if not inside:
            text = f"has a line that is no sum of a file here: {line[:80]!r}"
            findings.append(found("A008", text, file=SUMS))
        elif not exists:
            if name not in ALWAYS:
                findings.append(found("A007", "was written with the plan, and is missing", file=name))
        elif not same:
            findings.append(found("A007", "was changed after the plan was written", file=name))
    return findings


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """What was taken of a plan since it was made, as the journal of the shop has it.

    Parameters
    ----------
    blanks, leftovers : tuple of str
        Taken, and added to the rack.
    pieces, cut : dict of str to int
        Copies used by piece, and cut by order.
    files : dict of str to set of str
        SHA-256 that files had after a take of this plan.
    """

    blanks: tuple[str, ...] = ()
    leftovers: tuple[str, ...] = ()
    pieces: dict[str, int] = field(default_factory=dict)
    cut: dict[str, int] = field(default_factory=dict)
    files: dict[str, set[str]] = field(default_factory=dict)


def check_inputs(plan: Plan, folder: Path, booked: Booked | None = None) -> list[Finding]:
    """Read the shop folder again and tell what differs from the inputs that the plan carries.

    When the files are the ones that the plan was made from, a difference is an error (the plan's copy
    was tampered with); when they have changed since, it is a warning. What was taken of the plan since is no
    difference.

    Parameters
    ----------
    plan : Plan
    folder : Path
        The shop folder.
    booked : Booked, optional
    """
    booked = booked or Booked()
    now, problems = read_shop(folder)
    if now is None:
        errors = [p for p in problems if p.severity == "error"]
        first = f": {errors[0]}" if errors else ""
        return [
            found("A006", f"the shop folder cannot be used any more ({len(errors)} errors){first}", file="")
        ]
    findings = []
    then = plan.shop.files
    for name in sorted({*then, *now.files}):
        if name not in now.files:
            what = "was read for the plan, and is read no more"
        elif name not in then:
            what = "was not read for the plan"
        elif now.files[name] in booked.files.get(name, ()):
            continue
        elif now.files[name] != then[name]:
            what = "has changed since the plan was made"
        else:
            continue
        findings.append(found("A004", what, file=name, severity="warning"))
    severity: Severity = "warning" if findings else "error"
    then_now = _differences(_after(plan.shop, booked), _without(now, booked.leftovers))
    findings += [found("A005", what, where=where, severity=severity) for where, what in then_now]
    if booked.blanks:
        what = f"was taken since the plan was made: {', '.join(booked.blanks)}"
        findings.append(found("A004", what, file="", severity="note"))
    return findings


def _after(shop: Shop, booked: Booked) -> Shop:
    """Return the inputs of a plan as they should be when some of it was taken."""

    def piece(old: Piece) -> Piece:
        left = old.count - booked.pieces.get(old.name, 0)
        return replace(old, count=left) if left > 0 else replace(old, status="taken")

    def order(old: Order) -> Order:
        left = old.count - booked.cut.get(old.name, 0)
        return replace(old, count=left) if left > 0 else replace(old, hold=True, done=True)

    return replace(shop, pieces=tuple(map(piece, shop.pieces)), orders=tuple(map(order, shop.orders)))


def _without(shop: Shop, leftovers: Iterable[str]) -> Shop:
    gone = set(leftovers)
    return replace(shop, pieces=tuple(p for p in shop.pieces if p.name not in gone))


class _Named(Protocol):
    @property
    def name(self) -> str: ...


def _differences(then: Shop, now: Shop) -> list[tuple[str, str]]:
    out = []
    if (then.name, then.units) != (now.name, now.units):
        out.append(("[shop]", "name or units: other in the plan than in the shop folder"))
    for one in fields(Settings):
        if getattr(then.settings, one.name) != getattr(now.settings, one.name):
            out.append(
                (
                    re.sub(r"_(mm|deg|pct|kg)$", "", one.name),
                    "the setting: other in the plan than in the shop folder",
                )
            )
    out += _rows("bed", then.beds, now.beds)
    out += _rows("part", then.parts, now.parts)
    out += _rows("piece", then.pieces, now.pieces)
    names = same_orders(then.orders, now.orders)
    renamed = [replace(o, name=names[o.name] or o.name) for o in then.orders if names[o.name]]
    gone = [
        (o.name, "is in the plan, and is in the shop folder no more")
        for o in then.orders
        if not names[o.name]
    ]
    out += _rows("order", renamed, now.orders) + gone
    return out


def _rows(kind: str, then: Iterable[_Named], now: Iterable[_Named]) -> list[tuple[str, str]]:
    old, new = {x.name: x for x in then}, {x.name: x for x in now}
    out = []
    for name in sorted({*old, *new}):
        where = name if kind == "order" and name.startswith("order") else f"{kind} {name}"
        if name not in new:
            out.append((where, "is in the plan, and is in the shop folder no more"))
        elif name not in old:
            out.append((where, "is in the shop folder, and not in the plan"))
        elif old[name] != new[name]:
            names = [
                re.sub(r"_(mm|deg|pct|kg)$", "", f.name)
                for f in fields(old[name])  # type: ignore[arg-type]
                if getattr(old[name], f.name) != getattr(new[name], f.name)
            ]
            out.append((where, f"{', '.join(names)}: other in the plan than in the shop folder"))
    return out
