"""The words of the shop as frozen data. Lengths in mm, angles in degrees, counter-clockwise."""

from nestyield.model.bed import Axis, Bed, Blocks, KeepOut, OpenEnd, Section, Setup
from nestyield.model.errors import AuditError, InputError, ModelError, NestyieldError
from nestyield.model.finding import Finding, Severity
from nestyield.model.outline import Outline, Point, Shape
from nestyield.model.part import Mirrored, Part, PartFace, Verdict, Zone, ZoneRole
from nestyield.model.piece import DEFECT_KINDS, Defect, Piece, PieceFace, Seam, Status
from nestyield.model.plan import (
    SCHEMA,
    Blank,
    Layout,
    Leftover,
    Member,
    Objective,
    OrderResult,
    Placement,
    Plan,
    Purchase,
    SeamUnderPart,
)
from nestyield.model.proof import AngleInterval, Certificate, ProofBranch
from nestyield.model.shop import Order, Settings, Shop, Units
from nestyield.model.work import FaceWork, HoldDown, HoldPlace, Pin, PinUse, WorkPlan

__all__ = [
    "DEFECT_KINDS",
    "SCHEMA",
    "AngleInterval",
    "AuditError",
    "Axis",
    "Bed",
    "Blank",
    "Blocks",
    "Certificate",
    "Defect",
    "FaceWork",
    "Finding",
    "HoldDown",
    "HoldPlace",
    "InputError",
    "KeepOut",
    "Layout",
    "Leftover",
    "Member",
    "Mirrored",
    "ModelError",
    "NestyieldError",
    "Objective",
    "OpenEnd",
    "Order",
    "OrderResult",
    "Outline",
    "Part",
    "PartFace",
    "Piece",
    "PieceFace",
    "Pin",
    "PinUse",
    "Placement",
    "Plan",
    "Point",
    "ProofBranch",
    "Purchase",
    "Seam",
    "SeamUnderPart",
    "Section",
    "Settings",
    "Setup",
    "Severity",
    "Shape",
    "Shop",
    "Status",
    "Units",
    "Verdict",
    "WorkPlan",
    "Zone",
    "ZoneRole",
]
