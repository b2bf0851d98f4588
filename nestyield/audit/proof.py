"""Certificates replayed: that a part has no place in a piece is proved once more, in another way.

For an interval of angles let K be the wood that every turned copy of the part covers. A shift is possible
only if K so shifted lies in the container, and the kept wood that must not hold a defect clear of it. All
shifts at which an edge crosses an edge are taken away, parallelogram by parallelogram (``shifts``); when no
shift is left, the interval is proved empty. When one is left at which the true part breaks no rule, the
certificate is false.
"""

from __future__ import annotations

import itertools

from nestyield.audit.replay import Case
from nestyield.audit.sheet import CheckedSheet
from nestyield.model import AngleInterval, Certificate, Finding, Part, Piece, Plan, ProofBranch

#: Most looks for one certificate; beyond it the rest of its intervals is left unconfirmed.
MOST_LOOKS = 500


def check_proofs(plan: Plan) -> dict[tuple[str, int], tuple[Finding, ...]]:
    """Replay every certificate of a plan; return what was found, by order and index of the certificate."""
    found: dict[tuple[str, int], tuple[Finding, ...]] = {}
    for result in plan.orders:
        for k, certificate in enumerate(result.certificates):
            sheet = CheckedSheet(plan)
            _check(sheet, result.order, certificate)
            if sheet.findings:
                found[result.order, k] = (*found.get((result.order, k), ()), *sheet.findings)
    return found


def _check(sheet: CheckedSheet, name: str, certificate: Certificate) -> None:
    where = f"{name}, piece {certificate.blank}"
    part, piece = sheet.parts.get(certificate.part), sheet.pieces.get(certificate.blank)
    if part is None or piece is None:
        sheet.say("A606", where, f"the proof is about {certificate.part!r}, which the plan lacks")
        return
    order = sheet.orders.get(name)
    if order is not None and order.part != part.name:
        sheet.say("A606", where, f"the proof is about {part.name}, the order wants {order.part}")
    if _covers(sheet, certificate, part, piece, where):
        _replay(sheet, certificate, part, piece, where)


def _covers(sheet: CheckedSheet, proof: Certificate, part: Part, piece: Piece, where: str) -> bool:
    """Check that the branches and intervals leave out no allowed angle."""
    images = {"no": (False,), "allowed": (False, True), "only": (True,)}[part.mirrored]
    sound = True
    for image in images:
        for front_up in (True,) if part.show_face == "top" else (True, False):
            mirrored = image != (not front_up)
            spans = [
                (i.from_deg, i.to_deg)
                for b in proof.branches
                if (b.front_up, b.mirrored) == (front_up, mirrored) and _without_gap(b)
                for i in (AngleInterval(from_deg=b.intervals[0].from_deg, to_deg=b.intervals[-1].to_deg),)
            ]
            for low, high in _allowed(part, piece, mirrored):
                if not any(
                    b - a >= 360.0 - 1e-6 or (a + 360.0 * k <= low + 1e-6 and b + 360.0 * k >= high - 1e-6)
                    for a, b in spans
                    for k in range(-2, 3)
                ):
                    sheet.say(
                        "A606",
                        where,
                        f"the proof leaves out angles {low:g} to {high:g} degrees, "
                        f"{'front' if front_up else 'back'} up",
                    )
                    sound = False
    return sound


def _without_gap(branch: ProofBranch) -> bool:
    spans = branch.intervals
    return bool(spans) and all(b.from_deg <= a.to_deg + 1e-9 for a, b in itertools.pairwise(spans))


def _allowed(part: Part, piece: Piece, mirrored: bool) -> list[tuple[float, float]]:
    """Ranges of angles that the grain allows."""
    if part.grain_deg is None or piece.grain_deg is None or part.grain_tolerance_deg >= 90.0:
        return [(0.0, 360.0)]
    drawn = 180.0 - part.grain_deg if mirrored else part.grain_deg
    middle = (piece.grain_deg - drawn) % 180.0
    tolerance = part.grain_tolerance_deg
    return [(middle + t - tolerance, middle + t + tolerance) for t in (0.0, 180.0)]


def _replay(sheet: CheckedSheet, proof: Certificate, part: Part, piece: Piece, where: str) -> None:
    """Prove every interval again, or find the placement that it denies."""
    looks = MOST_LOOKS
    left = []
    for branch in proof.branches:
        case = Case(sheet, proof, branch, part, piece)
        for interval in branch.intervals:
            if looks <= 0:
                left.append(interval)
                continue
            state, used, found = case.halving(interval, looks)
            looks -= used
            if state == "false" and found is not None:
                sheet.say(
                    "A606",
                    where,
                    f"the proof says that {part.name} has no place, but it lies well at "
                    f"{found.angle_deg:.4f} degrees, x {found.x_um / 1000:.3f}, y {found.y_um / 1000:.3f} mm",
                )
                return
            if state == "open":
                left.append(interval)
    if left:
        total = sum(i.to_deg - i.from_deg for i in left)
        sheet.say(
            "A607",
            where,
            f"{len(left)} intervals of the proof ({total:.3g} degrees together) could not be confirmed "
            "within the audit's effort",
            "note",
        )
