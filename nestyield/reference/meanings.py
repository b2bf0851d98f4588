"""What roles, kinds of defect and layers of drawings mean to a maker, one line each."""

from __future__ import annotations

#: Role of a layer in ``[part.NAME.layers]`` -> what it is for.
ROLE_MEANS: dict[str, str] = {
    "outline": "outline of the part; exactly one",
    "cutout": "opening, cut right through",
    "pocket": "recess of one depth; needs depth and takes face; a defect in it that is cut away does no harm",
    "contour": "slope: nothing at its inner edge, its depth at the outline; needs depth and takes face",
    "hole": "drilled hole for a stud or screw; without a depth right through; seams keep clear",
    "no_seam": "region that no seam may run through; not cut",
    "screw_row": "row of screws: seams may cross it, not run along in it; not cut",
    "center_line": "line that a seam by preference lies on; not cut",
    "ignore": "not read",
}

#: Kind of defect -> what it is, and what the plan does about it.
DEFECT_MEANS: dict[str, str] = {
    "knot": "sound knot, fast in the wood",
    "loose knot": "knot that may fall out; it is thrown where a cutter meets it",
    "check": "crack along the grain, not right through",
    "split": "crack right through",
    "shake": "crack between growth rings",
    "bark": "bark in the wood",
    "wane": "edge where the round of the tree is missing",
    "live edge": "edge as the tree grew, with or without bark; not sound to measure from",
    "rough edge": "edge that is torn, waney or out of true; not sound to measure from",
    "worm": "worm holes",
    "rot": "decay",
    "pith": "heart of the tree",
    "pitch": "pitch pocket",
    "screw hole": "may still hold metal; what is cut keeps clear where there is room",
    "nail hole": "may still hold metal; what is cut keeps clear where there is room",
    "mortise": "joinery hole; what is cut keeps clear where there is room",
    "drilled hole": "right through; `take` books those of pins in leftovers; what is cut keeps clear where there is room",
    "dent": "wood pressed in",
    "stain": "color only",
    "sapwood": "pale outer wood; clear in grading",
    "metal": "metal in the wood: never in a part, and no cutter comes near",
    "other": "anything else",
}

#: Words of sheets and reports -> what they mean.
WORDS: dict[str, str] = {
    "datum corner": "corner of the blank from which all lengths on its sheet are measured: lower left, where the datum edges meet",
    "datum edge": "edge of the blank from which lengths are measured: the lower one and the left one",
    "zero": "point at which the machine's X and Y are set to 0; the sheet says where on the blank it is",
    "play": "how far a part may be shifted or turned in its blank while margins, gaps, flaws, screws and pins keep "
    "their distance",
    "limit of play": "line that the part's edge may reach when it is shifted",
    "onion skin": "thin floor that is left under an outline, so that the part stays in place until it is cut free by hand",
    "tab": "short bridge of wood that is left in an outline and holds the part",
    "spoil board": "sheet under the blank that the cutter may run into",
    "index hole": "hole of the blank that goes on a pin when a long blank is moved along the bed",
    "section": "one of several positions of a blank that is longer than the travel",
    "flip axis": "line about which the blank is turned over between its setups",
    "setup": "one position of the blank on the bed, one face up",
    "blank": "what goes on the bed: a piece, what is sawn off one, or a glue-up",
    "resaw": "to saw a board along its length through its thickness, on edge, so that it gives thinner boards",
    "leaf": "one of the boards that a resawn board gives; its faces are the board's own or sawn",
    "book match": "two neighboring leaves of one board, opened like a book about the joint: each the other's mirror image",
    "laminated": "of a blank: made of layers, boards glued face to face, one above the other",
    "layer": "one board of a laminated blank, planed on its glued faces",
    "cap": "top layer of a part that is made of layers, often of a finer wood",
    "core": "what lies under a cap",
    "strip on edge": "strip ripped off a board and turned by a quarter, its edge up: boards' faces are glued, for necks",
    "tolerance": "how far off something may lie once it is measured, sawn, glued or laid: the plan adds them up",
    "caul": "stiff batten that spreads the pressure of clamps over a face",
    "nosing": "rounded front edge of a stair tread: enter the edge as rough (`rough near`), which parts keep [allowance] "
    "rough_edge away from; one that is rounder, as wane in defects.csv",
    "quartersawn": "board whose growth rings stand on its face. No column asks it: movement over the year is told for "
    "quartersawn and flatsawn wood",
    "thumb": "of a knot: 1 in (25.4 mm) across, common practice; pin is 1/2, small 3/4, medium 1 1/2, large 3 in",
    "bow": "of a board: curved along its length. No column asks it: enter the thickness that is left once it is flat, the "
    "measured one less the gap under a straightedge, and the bow in the note",
    "bowed": "see bow",
    "cup": "of a board: curved across its width; entered as bow is",
    "cupped": "see cup",
    "twist": "of a board: its corners do not lie in one plane; entered as bow is, by the gap under the fourth corner",
    "hire": "of a bed: no key. Beds are used in the order of the shop file, and what one costs is not weighed",
    "zone": "region of a part's drawing with a role: pocket, contour, hole, cutout, no seam",
    "island": "outline inside another on a zone's layer: wood that stays in a pocket",
    "jointing": "taking an edge straight before gluing",
    "yield": "wood in parts, of the wood of the pieces taken",
    "used up": "wood of the pieces taken less what is kept",
    "bound": "what no choice can be better than; where it is reached, the choice is proven the best of those tried",
    "chaining": "joining the ends of lines and arcs in a drawing into an outline",
    "chord error": "how far an arc may be off when it is taken as short straight lines",
    "board foot": "144 cubic inches: a board 1 in thick, 12 in square",
    "P": "common practice of the trade, no source",
}

#: Letters beside things on sheets and in drawings -> what they stand for; those of defects are a kind's own.
SIGNS: dict[str, str] = {
    "H": "H1, H2: holes of the blank for pins; H1 goes on pin P1",
    "P": "P1, P2: pins that stand in the table, and what the blank's holes H1, H2 go on",
    "S": "S1, S2: screws that hold the blank on the table",
    "T": "T1, T2: tabs, short bridges of wood left in an outline",
}

#: Names of layers in the drawings that come out -> what is on them.
LAYERS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("BLANK",), "outline of the blank, and its holes"),
    (("PART",), "outlines of the parts, cut through last"),
    (("POCKET TOP 19 MM", "POCKET BOTTOM 21 MM"), "pockets by face of the wood and depth (IN in inch shops)"),
    (("CONTOUR TOP 12 MM",), "contours: 0 at the inner edge, the depth at the outline"),
    (("HOLE TOP 25 MM", "HOLE THROUGH"), "drilled holes, circles"),
    (("CUTOUT",), "openings, cut through"),
    (("CENTER LINE", "NO SEAM", "SCREW ROW"), "lines and regions of the part's drawing, not cut"),
    (("SEAM", "SPLINE", "DOWEL"), "joint lines, and what is hidden in them"),
    (("SECTION",), "where sections of a long blank meet"),
    (("DEFECT", "WATCH"), "defects of the wood; edges likely to tear out. Not plotted"),
    (("LEFTOVER", "LEFTOVER RECTANGLE"), "what is kept, and its largest rectangle along the grain"),
    (("TAB",), "tabs left in the groove: as long as the shop wants, as wide as the cutter"),
    (("PIN", "HOLD DOWN"), "pin holes by their diameter, heads of screws; circles"),
    (("FLIP AXIS",), "line about which the blank is turned over"),
    (("ZERO",), "cross at the drawing's zero"),
    (("TEXT",), "names, depths, heading with thickness and where the zero is"),
)
