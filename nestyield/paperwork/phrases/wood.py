"""Phrases: machines, joints, moisture, movement and other facts of the wood; and where figures come from."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from nestyield.model.facts import (
    AlongScrews,
    CrossedJoint,
    EndGrainJoint,
    GrainOffPart,
    InNoSeamZone,
    JointNote,
    LongGrainJoint,
    MachineRule,
    MoistureApart,
    MoistureOffSeason,
    MovementUnknown,
    NearHole,
    NearOutline,
    OverMachineLimit,
    Remedy,
    SeamRule,
    SeamRuleBroken,
    SeasonalStep,
    SidesPull,
    SlantedJoint,
    SourceKey,
    TakePushBlocks,
    TakePushStick,
    UnderMachineLimit,
    UnlikeSpecies,
    WeakJoint,
    WidthMoves,
)
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Rounding, Words, fill

#: Where a figure comes from.
SOURCES: Mapping[SourceKey, str] = MappingProxyType(
    {
        "GTR-190 joints": "GTR-190 ch. 10",
        "GTR-190 scarf": "GTR-190 ch. 10; figures from memory",
        "FPL 1522": "FPL Report 1522 (1945), for 90 degrees",
        "HSE saw": "HSE, guidance on circular saws",
        "PVA practice": "common practice for white (PVA) glue, no source",
        "practice": "common practice, no source",
    }
)

#: A safe way to the same end, as a request.
REMEDIES: Mapping[Remedy, str] = MappingProxyType(
    {
        "joint while longer": "joint the edge while the board is still part of a longer one, on a carrier "
        "sled "
        "past the saw, or with a hand plane on a shooting board",
        "glue first": "glue up first and plane the blank, or level it with a router sled or a hand plane",
        "carrier board": "plane it on a carrier board",
        "level by hand": "level it with a router sled or a hand plane, or plane the boards before the last "
        "seam "
        "is glued",
        "two push blocks": "use two push blocks, light cuts, guard in place",
        "rip while longer": "rip it while it is still part of a longer board, then crosscut",
    }
)

_TOO_SMALL = {"length": "short", "width": "narrow", "thickness": "thin"}
_TOO_LARGE = {"length": "long", "width": "wide", "thickness": "thick"}


def _beside(value_um: int, limit_um: int, words: Words, rounding: Rounding) -> tuple[str, str]:
    """Return a board's own size and a limit, which never read alike: the limit is rounded to the safe "
    "side."""
    limit = words.length(limit_um / 1000, rounding="up" if rounding == "down" else "down")
    own = words.length(value_um / 1000)
    return (words.length(value_um / 1000, rounding=rounding) if own == limit else own), limit


def _under(fact: UnderMachineLimit, words: Words) -> str:
    own, least = _beside(fact.value_um, fact.least_um, words, "down")
    return (
        f"Too {_TOO_SMALL[fact.dimension]} for the {fact.machine}: {own}, at least {least} is needed. "
        f"Instead, {REMEDIES[fact.remedy]}."
    )


def _over(fact: OverMachineLimit, words: Words) -> str:
    own, most = _beside(fact.value_um, fact.most_um, words, "up")
    return (
        f"Too {_TOO_LARGE[fact.dimension]} for the {fact.machine}: {own}, at most {most} goes through. "
        f"Instead, {REMEDIES[fact.remedy]}."
    )


def _push_stick(fact: TakePushStick, words: Words) -> str:
    own, least = _beside(fact.value_um, fact.least_um, words, "down")
    stick = words.length(fact.stick_um / 1000, style="coarse", rounding="up")
    return (
        f"A saw cut of {own} is shorter than {least}: use a push stick, at least {stick} long, for the "
        "whole cut. "
        f"Or {REMEDIES[fact.remedy]} ({SOURCES[fact.source]})."
    )


_MACHINES: Mapping[type, Phrase] = {
    UnderMachineLimit: _under,
    OverMachineLimit: _over,
    TakePushBlocks: (
        "A board under {length_um:coarse up} long, {width_um:coarse up} wide or {thickness_um:coarse up} "
        "thick goes over the jointer with two push blocks only. Take light cuts, with the guard in place."
    ),
    TakePushStick: _push_stick,
}


def machine_rule(rule: MachineRule, words: Words) -> str:
    """Return what to mind before a board goes to a machine."""
    template = _MACHINES[type(rule)]
    return fill(template, rule, words) if isinstance(template, str) else template(rule, words)


def strength(joint: JointNote, words: Words) -> str:
    """Return how strong a joint is beside the wood itself, with the source of the figure."""
    share = (
        "nearly as strong as the wood"
        if joint.strength_pct > 99.5
        else f"about {joint.strength_pct:.0f}{words.space}% of the wood's strength"
    )
    return f"{share} ({SOURCES[joint.source]})"


def _joint(template: str) -> Phrase:
    """Return a phrase of a joint: what the template says, then its strength."""
    return lambda fact, words: f"{fill(template, fact, words)}; {strength(fact, words)}"


_JOINTS: Mapping[type, Phrase] = {
    LongGrainJoint: lambda fact, words: f"long grain to long grain, {strength(fact, words)}",
    SlantedJoint: _joint("the seam leaves the grain by 1 in {run}, and 1 in 12 or flatter is best"),
    EndGrainJoint: _joint("end grain meets the seam, which does not hold in service"),
    CrossedJoint: _joint(
        "grain crosses at {crossing_deg}, and each side restrains the other's movement and can crack it"
    ),
}


def joint_note(joint: JointNote, words: Words) -> str:
    """Return how the grain meets a seam and how strong that is."""
    template = _JOINTS[type(joint)]
    return fill(template, joint, words) if isinstance(template, str) else template(joint, words)


def _points(value: float) -> str:
    return f"{round(value, 2):g} {'point' if value == 1 else 'points'}"


def _apart(fact: MoistureApart, words: Words) -> str:
    return (
        f"{seam_name(fact.seam)}: the boards are {_points(fact.difference_points)} of moisture apart, at "
        "most "
        f"{_points(fact.limit_points)} allowed. Let them settle together before gluing."
    )


def seam_name(name: str) -> str:
    """Return the name of a seam at the beginning of a sentence."""
    return name[:1].upper() + name[1:]


_RULES: Mapping[type, str] = {
    InNoSeamZone: "through {zone}, where the drawing allows no seam",
    NearHole: "within {clearance_um:fine} of hole {zone}",
    AlongScrews: "lengthwise through the screws of {zone}",
    NearOutline: "within {least_um:fine} of an outline along it",
}


def seam_rule(rule: SeamRule, words: Words) -> str:
    """Return where a seam runs that breaks a rule."""
    return fill(_RULES[type(rule)], rule, words)


def _rule_broken(fact: SeamRuleBroken, words: Words) -> str:
    inside = words.length(fact.inside_um / 1000)
    return (
        f"{seam_name(fact.seam)} runs {seam_rule(fact.rule, words)} under part {fact.placement + 1}, "
        f"{fact.part}: {inside} inside the range where no seam should run. Check that the joint is sound "
        "there, or use another blank."
    )


def _width_moves(fact: WidthMoves, words: Words) -> str:
    own = "" if not fact.own else " The figures of {own} are the maker's own."
    return fill(
        "The width moves by {quartersawn_um:fine} (quartersawn) to {flatsawn_um:fine} (flatsawn) over the "
        f"year, from {{driest_pct}} to {{dampest_pct}} moisture.{own}",
        fact,
        words,
    )


PHRASES: Mapping[type, Phrase] = {
    **_JOINTS,
    **_RULES,
    **_MACHINES,
    WidthMoves: _width_moves,
    MovementUnknown: "There are no movement figures for {species:or}.",
    MoistureApart: _apart,
    SeasonalStep: (
        "{seam:cap}: a step of up to {alike_um:fine} can show over the year with growth rings alike, "
        "{unlike_um:fine} with flatsawn beside quartersawn, from {driest_pct} to {dampest_pct} moisture."
    ),
    SidesPull: (
        "{seam:cap}: grain crosses at {crossing_deg}. The sides pull at each other by up to "
        "{mismatch_um:fine} over "
        "the year and may crack."
    ),
    WeakJoint: lambda fact, words: f"{seam_name(fact.seam)}: {joint_note(fact.joint, words)}.",
    MoistureOffSeason: (
        "Piece {piece} has {moisture_pct} moisture; {low_pct} to {high_pct} suits its place of use. Let it "
        "settle before gluing or cutting."
    ),
    SeamRuleBroken: _rule_broken,
    GrainOffPart: (
        "The grain of piece {piece} is {off_deg} off that of {part}, which tolerates {tolerance_deg}. "
        "Short grain "
        "is weaker."
    ),
    UnlikeSpecies: (
        "The blank is glued from {species}. They move by unlike amounts, and steps can show at the seams."
    ),
}
