"""The words of the shop as frozen data. Lengths in mm, angles in degrees, counter-clockwise."""

from typing import TYPE_CHECKING

from nestyield.model.lazy import lazily

if TYPE_CHECKING:
    from nestyield.model.arc import Point
    from nestyield.model.axis import Axis, BlankEdge, OpenEnd
    from nestyield.model.bed import Bed, Blocks, KeepOut, Section, Setup
    from nestyield.model.defect_kinds import DEFECT_KINDS, DEFECTS, DefectKind
    from nestyield.model.errors import AuditError, InputError, ModelError, NestyieldError
    from nestyield.model.facts.glue import Reinforcement
    from nestyield.model.finding import Finding, Severity
    from nestyield.model.glueup import (
        BoardFace,
        Clamps,
        Crossing,
        GlueEdge,
        GlueMember,
        GlueSeam,
        GlueUp,
        JointReinforcement,
        Movement,
        PieceCut,
        RipOffcut,
    )
    from nestyield.model.inspection import DefectUnderCutter, EdgeCheck, Inspection, LeftoverDefects
    from nestyield.model.laminate import FaceJoint, Laminate, LaminateLayer, Press
    from nestyield.model.layer import Layer, StackLayer
    from nestyield.model.leftover import Leftover
    from nestyield.model.off_by import OffBy, OffSource, OffTerm
    from nestyield.model.on_edge import EdgeStrip, OnEdge, Strip
    from nestyield.model.outline import Outline, Shape
    from nestyield.model.own_wood import OwnWood
    from nestyield.model.part import Mirrored, Part, PartFace, Verdict, Zone
    from nestyield.model.piece import Defect, Piece, PieceFace, Seam, Status
    from nestyield.model.plan import (
        SCHEMA,
        Blank,
        Layout,
        Member,
        Objective,
        OrderResult,
        OtherWay,
        Placement,
        Plan,
        Purchase,
        SeamUnderPart,
    )
    from nestyield.model.proof import AngleInterval, Certificate, ProofBranch
    from nestyield.model.roles import ROLES, Role, ZoneRole
    from nestyield.model.sawing import Resaw, ResawCut, SawCut, Sawing
    from nestyield.model.settings import (
        GlueUpRules,
        Holding,
        MachineLimits,
        Preferences,
        Season,
        Settings,
        ValueClass,
    )
    from nestyield.model.shop import Match, Order, Shop
    from nestyield.model.slack import Fill, Slack, TearOutKind, TearOutRisk
    from nestyield.model.units import Units
    from nestyield.model.weight import KnownBy, PartWeight, WeighedWood, WeightWish
    from nestyield.model.work import (
        BedPosition,
        HeldCut,
        HoldDown,
        HoldPlace,
        Pin,
        PinUse,
        SquareEdge,
        Stage,
        Tab,
        TablePin,
        WorkPlan,
    )

__getattr__ = lazily(__name__, __file__)

__all__ = [
    "DEFECTS",
    "DEFECT_KINDS",
    "ROLES",
    "SCHEMA",
    "AngleInterval",
    "AuditError",
    "Axis",
    "Bed",
    "BedPosition",
    "Blank",
    "BlankEdge",
    "Blocks",
    "BoardFace",
    "Certificate",
    "Clamps",
    "Crossing",
    "Defect",
    "DefectKind",
    "DefectUnderCutter",
    "EdgeCheck",
    "EdgeStrip",
    "FaceJoint",
    "Fill",
    "Finding",
    "GlueEdge",
    "GlueMember",
    "GlueSeam",
    "GlueUp",
    "GlueUpRules",
    "HeldCut",
    "HoldDown",
    "HoldPlace",
    "Holding",
    "InputError",
    "Inspection",
    "JointReinforcement",
    "KeepOut",
    "KnownBy",
    "Laminate",
    "LaminateLayer",
    "Layer",
    "Layout",
    "Leftover",
    "LeftoverDefects",
    "MachineLimits",
    "Match",
    "Member",
    "Mirrored",
    "ModelError",
    "Movement",
    "NestyieldError",
    "Objective",
    "OffBy",
    "OffSource",
    "OffTerm",
    "OnEdge",
    "OpenEnd",
    "Order",
    "OrderResult",
    "OtherWay",
    "Outline",
    "OwnWood",
    "Part",
    "PartFace",
    "PartWeight",
    "Piece",
    "PieceCut",
    "PieceFace",
    "Pin",
    "PinUse",
    "Placement",
    "Plan",
    "Point",
    "Preferences",
    "Press",
    "ProofBranch",
    "Purchase",
    "Reinforcement",
    "Resaw",
    "ResawCut",
    "RipOffcut",
    "Role",
    "SawCut",
    "Sawing",
    "Seam",
    "SeamUnderPart",
    "Season",
    "Section",
    "Settings",
    "Setup",
    "Severity",
    "Shape",
    "Shop",
    "Slack",
    "SquareEdge",
    "StackLayer",
    "Stage",
    "Status",
    "Strip",
    "Tab",
    "TablePin",
    "TearOutKind",
    "TearOutRisk",
    "Units",
    "ValueClass",
    "Verdict",
    "WeighedWood",
    "WeightWish",
    "WorkPlan",
    "Zone",
    "ZoneRole",
]
