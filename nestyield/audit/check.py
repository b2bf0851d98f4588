"""The independent check of a finished plan: from the plan alone, or from a folder on disk.

Codes: A0 the file, A1 blanks and stock, A2 places, A3 defects, A4 what is reported, A5 beds, A6 orders.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from shapely.errors import ShapelyError

from nestyield.audit.bed_facts import check_bed_facts
from nestyield.audit.beds import check_beds
from nestyield.audit.blanks import check_blank, check_stock
from nestyield.audit.cautions import check_cautions, check_general
from nestyield.audit.depth import check_defects
from nestyield.audit.fills import check_fills
from nestyield.audit.folder import Booked, check_files, check_inputs, read_plan
from nestyield.audit.glue_told import check_seen
from nestyield.audit.glueups import check_glueups
from nestyield.audit.held import check_held
from nestyield.audit.inspection import check_inspection
from nestyield.audit.laminate_told import check_laminate_told
from nestyield.audit.named import check_named, check_rooms_told
from nestyield.audit.objectives import check_objectives
from nestyield.audit.off_told import check_off
from nestyield.audit.on_edge import check_on_edge_told
from nestyield.audit.orders import check_orders
from nestyield.audit.other_ways import check_other_way
from nestyield.audit.places import check_places
from nestyield.audit.proof import check_proofs
from nestyield.audit.reasons import check_reasons
from nestyield.audit.rejected import check_rejected
from nestyield.audit.reported import check_leftovers, check_measures, check_seams
from nestyield.audit.sawings import check_sawings
from nestyield.audit.sets import check_sets
from nestyield.audit.sheet import CheckedBlank, CheckedSheet
from nestyield.audit.slack import check_rooms, check_watch
from nestyield.audit.stages import check_stages
from nestyield.audit.stands import check_clearances
from nestyield.audit.tabs import check_tabs
from nestyield.audit.taken import sawn_off
from nestyield.audit.to_buy import check_purchases, check_sums
from nestyield.audit.weights import check_weights
from nestyield.audit.wood_facts import check_wood
from nestyield.audit.work import check_work
from nestyield.model import Finding, Layout, OtherWay, Plan
from nestyield.planfile.folder import PLAN

#: Checks of the plan as a whole, in order.
OF_THE_WHOLE: tuple[Callable[[CheckedSheet], None], ...] = (
    check_stock,
    check_orders,
    check_sets,
    check_objectives,
    check_sums,
    check_purchases,
    check_reasons,
    check_general,
    check_rejected,
    check_rooms_told,
)
#: Checks of one layout, in order.
OF_A_LAYOUT: tuple[Callable[[CheckedBlank], None], ...] = (
    check_blank,
    check_places,
    check_defects,
    check_seams,
    check_seen,
    check_leftovers,
    check_measures,
    check_rooms,
    check_watch,
    check_named,
    check_fills,
    check_beds,
    check_bed_facts,
    check_work,
    check_clearances,
    check_stages,
    check_held,
    check_tabs,
    check_inspection,
    check_cautions,
    check_glueups,
    check_laminate_told,
    check_on_edge_told,
    check_wood,
    check_weights,
    check_off,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Audited:
    """What a check of a plan found, by what it is about.

    Parameters
    ----------
    whole : tuple of Finding
        About stock, orders and cautions of the plan as a whole.
    layouts : tuple of tuple of Finding
        About each layout, in their order.
    proofs : mapping of (str, int) to tuple of Finding
        About proofs that are false or not confirmed: order, index of the certificate.
    ways : tuple of tuple of Finding
        About each other way, in their order.
    """

    whole: tuple[Finding, ...]
    layouts: tuple[tuple[Finding, ...], ...]
    proofs: dict[tuple[str, int], tuple[Finding, ...]]
    ways: tuple[tuple[Finding, ...], ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All of it, in the order in which it was checked."""
        return (
            *self.whole,
            *(f for some in (*self.layouts, *self.proofs.values(), *self.ways) for f in some),
        )


def audit(plan: Plan) -> tuple[Finding, ...]:
    """Check a plan by itself: its placements, blanks, beds, reports and counts.

    Every region is made again from the drawings in the plan, with fine chords on the true arcs, and
    measured with shapely; nothing of the search is used.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of Finding
        Empty for a sound plan. Errors name the blank, the part, what was measured and the limit.
    """
    return audited(plan).findings


def _each(plan: Plan) -> list[tuple[Finding, ...]]:
    return [audit_layout(plan, layout) for layout in plan.layouts]


def audited(plan: Plan, each: Callable[[Plan], list[tuple[Finding, ...]]] = _each) -> Audited:
    """Check a plan as `audit` does; return what was found by what it is about.

    Parameters
    ----------
    plan : Plan
    each : callable
        Returns what `audit_layout` finds in each layout, in their order; left out, this process does so.
    """
    sheet = CheckedSheet(plan)
    for check in OF_THE_WHOLE:
        _whole(sheet, check)
    sawn = CheckedSheet(plan)
    _whole(sawn, check_sawings)
    layouts = each(plan)
    whole = [*sheet.findings]
    for finding in sawn.findings:
        k = next((k for k, x in enumerate(plan.layouts) if _sawn_wrong(x, finding)), None)
        if k is None:
            whole.append(finding)
        else:
            layouts[k] = (*layouts[k], finding)
    ways = tuple(_other_way(plan, way) for way in plan.other_ways)
    return Audited(whole=tuple(whole), layouts=tuple(layouts), proofs=check_proofs(plan), ways=ways)


def _whole(sheet: CheckedSheet, check: Callable[[CheckedSheet], None]) -> None:
    """Run a check of the plan as a whole; names or numbers that it cannot work with are a finding."""
    try:
        check(sheet)
    except (ArithmeticError, LookupError, ValueError, TypeError, MemoryError, ShapelyError) as error:
        what = check.__name__.removeprefix("check_")
        sheet.say("A099", "", f"could not be checked ({what}): {type(error).__name__}: {error}")


def _other_way(plan: Plan, way: OtherWay) -> tuple[Finding, ...]:
    """Check another way; numbers that no shop has are a finding too."""
    try:
        return check_other_way(plan, way)
    except (ArithmeticError, LookupError, ValueError, TypeError, MemoryError, ShapelyError) as error:
        sheet = CheckedSheet(plan)
        sheet.say("A612", f"other way for blank {way.instead_of}", f"{type(error).__name__}: {error}")
        return tuple(sheet.findings)


def _sawn_wrong(layout: Layout, finding: Finding) -> bool:
    """Tell whether a finding speaks against how a blank's piece is sawn, so that the blank cannot be had."""
    sawn = [m for m in layout.blank.members if m.layer is not None]
    sawn += [m for m in layout.blank.members[:1] if sawn_off(layout.blank) is not None]
    sawn += [m for m in layout.blank.members if m.strip is not None]
    return finding.code in ("A127", "A129") and any(finding.where == f"piece {m.piece}" for m in sawn)


def audit_layout(plan: Plan, layout: Layout) -> tuple[Finding, ...]:
    """Check one layout by itself.

    Parameters
    ----------
    plan : Plan
        Of its shop; its other layouts are not looked at.
    layout : Layout
    """
    sheet = CheckedSheet(plan)
    _layout(sheet, layout)
    return tuple(sheet.findings)


def _layout(sheet: CheckedSheet, layout: Layout) -> None:
    bench = CheckedBlank(sheet, layout)
    for check in OF_A_LAYOUT:
        try:
            check(bench)
        except (ArithmeticError, LookupError, ValueError, TypeError, MemoryError, ShapelyError) as error:
            # numbers that no shop has (1e300 mm, a bulge of 1e200, section 9 of 2): no proof, so no plan
            what = check.__name__.removeprefix("check_")
            bench.say("A099", f"could not be checked ({what}): {type(error).__name__}: {error}")


def verify_dir(
    out_dir: Path, shop_dir: Path | None = None, booked: Booked | None = None
) -> tuple[Finding, ...]:
    """Check a finished plan on disk: its sums, then all that it tells, then the shop that it was made from.

    Parameters
    ----------
    out_dir : Path
        Folder with ``plan.json`` and the papers.
    shop_dir : Path, optional
        The shop folder; it is read again and compared with what the plan carries.
    booked : Booked, optional
        What was taken of the plan since.

    Returns
    -------
    tuple of Finding
        Empty when all is well. ``A001`` and ``A002`` mean that there was no plan to check.
    """
    files = check_files(out_dir) if (out_dir / PLAN).is_file() else []
    plan, findings = read_plan(out_dir)
    if plan is None:
        return tuple(findings)
    findings = files + findings
    findings += audit(plan)
    if shop_dir is not None:
        findings += check_inputs(plan, shop_dir, booked)
    return tuple(findings)
