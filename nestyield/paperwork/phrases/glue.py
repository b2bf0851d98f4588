"""Phrases: how a blank is glued up."""

from __future__ import annotations

from collections.abc import Mapping

from nestyield.model.facts import (
    BlankRefused,
    BoardEdge,
    BoreHoles,
    ClampsShort,
    CrosscutFirst,
    CutSlots,
    DryFit,
    GlueAndClamp,
    GuardsInPlace,
    JointEdges,
    JointOff,
    KeepOffcuts,
    LabelBoards,
    LayBoards,
    LeaveInClamps,
    LevelAfterGluing,
    LoneDowel,
    ManualsFirst,
    MetalAtEdge,
    MoistureDiffers,
    MoistureUnknown,
    NoHiddenPlace,
    NotOverJointer,
    OpenBook,
    PartTooThin,
    PlaneBlank,
    PlaneBoards,
    PlanedBoard,
    ResawLeaves,
    RipBoards,
    SawApart,
    ScrapeGlue,
    SearchForMetal,
    SetMarks,
    ThickBoard,
    ThinAtSeam,
)
from nestyield.paperwork.phrases import wood
from nestyield.paperwork.phrases.kind import Phrase
from nestyield.words import Words, fill, listed


def _saw_apart(fact: SawApart, words: Words) -> str:
    size = words.size(fact.length_um / 1000, fact.width_um / 1000)
    grain, way = ("across", "along its length") if fact.way == "crosscut" else ("along", "across its width")
    at = words.length(fact.at_um / 1000)
    place = f"at {at}" if fact.to_um is None else f"from {at} to {words.length(fact.to_um / 1000)}"
    kerf = words.length(fact.kerf_um / 1000, style="fine")
    return (
        f"Saw {fact.piece} ({size}, picture 3) {grain} the grain. The middle of the kerf is {place} from "
        "corner 0, "
        f"measured {way}; the kerf is {kerf}. {fact.before} is the part towards corner 0, {fact.after} the "
        "part "
        "beyond."
    )


def _each(facts: tuple[PlanedBoard | ThickBoard | BoardEdge, ...], words: Words) -> str:
    return listed(fill(_LISTED[type(fact)], fact, words) for fact in facts)


_LISTED: Mapping[type, str] = {
    PlanedBoard: "{off_um:fine} off the {face} face of {board}",
    ThickBoard: "{board} ({thickness_um})",
    BoardEdge: "{board} at {seam}",
}


def _plane(fact: PlaneBoards, words: Words) -> str:
    return f"{fill('Plane to {to_um:fine}', fact, words)}: take {_each(fact.boards, words)}."


def _level(fact: LevelAfterGluing, words: Words) -> str:
    rest = fill(
        "Glue with the faces that are up level. Then level the other side of the blank to {to_um:fine} "
        "with a router sled or a hand plane.",
        fact,
        words,
    )
    return f"Do not put through the planer: {_each(fact.boards, words)}. {rest}"


def _rip(fact: RipBoards, words: Words) -> str:
    leave = "" if fact.leave_um == 0 else fill(" Leave {leave_um:fine} for jointing.", fact, words)
    return (
        f"Draw the bold lines of picture 2 and rip along them, with the saw on the dotted side.{leave} The "
        "outer "
        "edges can stay as they are."
    )


def _below(below_um: tuple[int, ...], words: Words) -> str:
    return listed((words.length(z / 1000, style="fine") for z in below_um), "or")


def _slots(fact: CutSlots, words: Words) -> str:
    head = fill(
        "Cut stopped slots for splines in both edges of {seams}: {width_um:fine} wide, {depth_um:fine} deep,",
        fact,
        words,
    )
    return f"{head} middle {_below(fact.below_um, words)} {_FENCE}"


def _holes(fact: BoreHoles, words: Words) -> str:
    head = fill(
        "Bore holes for dowels in both edges of {seams}: {diameter_um:fine} across, {depth_um:fine} deep,",
        fact,
        words,
    )
    return f"{head} middle {_below(fact.below_um, words)} {_FENCE}"


_FENCE = (
    "below the face that is up. Keep that face against the fence. The table of splines and dowels shows the "
    "places along the seam."
)


def _glue(fact: GlueAndClamp, words: Words) -> str:
    kinds = listed(["splines" if fact.splines else "", "dowels" if fact.dowels else ""])
    fitted = f", fit the {kinds}" if kinds else ""
    many = fact.seams > 1
    each = " If the glue sets too fast for that, glue one seam after the other." if many else ""
    return (
        f"Spread glue on both edges of the {'seams' if many else 'seam'}{fitted} and rub them together, "
        "mark on mark. "
        "Clamp from the middle outwards, clamps above and below in turn. Cauls across keep the faces level. "
        f"Wipe off what squeezes out.{each}"
    )


def _clamps_short(fact: ClampsShort, words: Words) -> str:
    have = "the shop has {count}" if fact.limit == "owned" else "only {count} have room along it"
    if fact.reached_mpa < fact.least_mpa:
        gives = "They press with {reached_mpa} at most; the glue needs {least_mpa}, and the joint stays weak."
    else:
        gives = "They stand {spacing_um} apart, and the seam can open between them."
    return fill(
        f"{{seam:cap}} takes {{needed}} clamps that give {{clamp_n}} each, and {have}. {gives} Use more or "
        "stronger clamps, or a glue whose leaflet asks for less.",
        fact,
        words,
    )


def _differs(fact: MoistureDiffers, words: Words) -> str:
    return (
        f"Moisture differs by {fact.difference_points:.1f} points between the boards; the shop allows "
        f"{fact.limit_points:g} between neighbors. Measure again before gluing."
    )


def _too_thin(fact: PartTooThin, words: Words) -> str:
    needs = words.length(3 * fact.thick_um / 1000, style="fine")
    return fill(
        "{seam:cap} under {part}: no {kind} stays hidden. {thick_um:fine} with as much wood towards either "
        "face "
        f"needs {needs}, and the part is {{thickness_um:fine}} thick.",
        fact,
        words,
    )


def _no_place(fact: NoHiddenPlace, words: Words) -> str:
    near = listed(["The outline", *fact.zones], "or")
    return fill(
        "{seam:cap} under {part}: no {kind} stays hidden. {near} is within {clearance_um:fine} of every "
        "place.",
        {
            "seam": fact.seam,
            "part": fact.part,
            "kind": fact.kind,
            "near": near,
            "clearance_um": fact.clearance_um,
        },
        words,
    )


def _crosscut_first(fact: CrosscutFirst, words: Words) -> str:
    boards = "Board {} comes of it." if len(fact.boards) == 1 else "Boards {} come of it."
    return (
        f"Crosscut {fact.piece} first, as its saw sheet shows: with all of its length no bed takes the "
        f"blank. {boards.format(listed(fact.boards))}"
    )


PHRASES: Mapping[type, Phrase] = {
    **_LISTED,
    SawApart: _saw_apart,
    CrosscutFirst: _crosscut_first,
    ResawLeaves: (
        "Resaw {piece} into leaves first, as its saw sheet shows, and let them rest. {upper} is the leaf "
        "toward its top face, {lower} the one under it."
    ),
    OpenBook: (
        "Open the two leaves like a book: turn {board} over about the edge to be jointed, the other stays "
        "as it lay in the board. Both now show the faces that one cut made, up, and the same end of the "
        "board at the same end: lines of the figure meet at the joint."
    ),
    LayBoards: (
        "Lay the boards on the bench as picture 2 shows them: the named face up, corner 0 where the "
        "picture shows it."
    ),
    LabelBoards: (
        "Write each board's letter on the face that is up, with an arrow to its left end. From here on "
        "upper, "
        "lower, left and right are those of the picture."
    ),
    PlaneBoards: _plane,
    LevelAfterGluing: _level,
    RipBoards: _rip,
    JointOff: lambda fact, words: f"Too little to saw: joint off {_each(fact.edges, words)}.",
    KeepOffcuts: (
        lambda fact, words: (
            f"Label the offcuts worth keeping and return them to the rack: {_each(fact.edges, words)}."
        )
    ),
    JointEdges: (
        "Joint each edge to its line. Run the two edges of a seam with opposite faces against the fence: a "
        "fence "
        "that is a little off then shows in neither face of the blank."
    ),
    NotOverJointer: (
        lambda fact, words: (
            f"{fact.board} does not go over the jointer by itself: {wood.REMEDIES[fact.remedy]}."
        )
    ),
    SetMarks: "Set the marks: measure along each jointed edge from its left end, on the face that is up.",
    CutSlots: _slots,
    BoreHoles: _holes,
    DryFit: (
        "Put the boards together dry, mark on mark, with the faces that are up level. No light may show "
        "along a "
        "seam, and light clamping must close it; otherwise joint again."
    ),
    GlueAndClamp: _glue,
    LeaveInClamps: "Leave it in the clamps as long as the glue's leaflet says. Wait a day before planing.",
    ScrapeGlue: "Scrape off the glue.",
    PlaneBlank: (
        "Plane the blank to {to_um:fine} after gluing, not before, once: this is the first step of the shop "
        "sheet, which shows how much comes off each face."
    ),
    PartTooThin: _too_thin,
    NoHiddenPlace: _no_place,
    LoneDowel: "{seam:cap} under {part}: only one dowel stays hidden, and alone it aligns nothing.",
    ClampsShort: _clamps_short,
    ThinAtSeam: "{seam:cap} runs through {zone}: {left_um:fine} of wood is left.",
    MetalAtEdge: (
        "The saw or the jointer runs through {kinds} ({defects}) at the edge of {board} for {seam}. "
        "Metal breaks teeth and is thrown: search there with a detector and pull out what is found before "
        "you rip or joint."
    ),
    MoistureDiffers: _differs,
    MoistureUnknown: ("The moisture of {boards} is not known: measure every board before gluing."),
    BlankRefused: lambda fact, words: f"The glued blank: {wood.machine_rule(fact.rule, words)}",
    SearchForMetal: (
        "Metal, grit, loose knots and splits break cutters and fly. Look the boards over, search them with "
        "a metal "
        "detector and take off what is loose before any cutter touches them."
    ),
    GuardsInPlace: (
        "Saw, jointer and planer cut, throw wood and make harmful dust. Keep guards in place, cover eyes "
        "and ears, use "
        "push blocks and push stick, keep hands clear of the cutter, extract the dust and wear a mask."
    ),
    ManualsFirst: (
        "The manuals of your machines, the leaflet of the glue, local rules and a person qualified for the "
        "work come "
        "before this sheet."
    ),
}
