"""Colors and strokes: one table for every picture, by day and by night.

The colors are those of a bench: paper, walnut, moss, madder, slate. Nothing is told by color alone;
every area that matters has a pattern, a dash or a letter besides.
"""

from __future__ import annotations

from dataclasses import dataclass

Pair = tuple[str, str]  # light, dark

#: Size of type whose capitals are 2.5 mm high, the least height of letters on drawings (ISO 3098-1).
LETTER_MM = 3.45
#: Size of the steps of work: 11 points.
STEP_MM = 3.9
#: Size of headings.
TITLE_MM = 4.2


@dataclass(frozen=True, slots=True)
class Style:
    """How an item is painted.

    Parameters
    ----------
    fill, stroke : (light, dark) or None
        Hex colors.
    width : float
        Stroke width, mm on the canvas.
    dash : tuple of float
        Dash and gap lengths, mm on the canvas.
    bold : bool
        For texts.
    halo : bool
        Whether a text gets a rim in the color of the ground.
    """

    fill: Pair | None = None
    stroke: Pair | None = None
    width: float = 0.25
    dash: tuple[float, ...] = ()
    bold: bool = False
    halo: bool = False


PAPER: Pair = ("#fbf8f1", "#221d19")
INK: Pair = ("#2b2420", "#f0e7d9")
SOFT_INK: Pair = ("#6a5d52", "#b9ab9b")
WOOD: Pair = ("#ecd9b8", "#5a452f")
WOOD_2: Pair = ("#e2c99f", "#664e34")
GRAIN: Pair = ("#dcc39b", "#6b5338")
PART: Pair = ("#fffdf8", "#352c25")
POCKET: Pair = ("#d8cfc2", "#574a3f")
MADDER: Pair = ("#98321f", "#f08d74")
MOSS: Pair = ("#3e6130", "#a4cb8c")
SLATE: Pair = ("#2f5670", "#93c1dd")
PLUM: Pair = ("#6a3568", "#d9a3d6")

STYLES: dict[str, Style] = {
    "ground": Style(fill=PAPER),
    "wood": Style(fill=WOOD),
    "wood-2": Style(fill=WOOD_2),
    "grain-line": Style(stroke=GRAIN, width=0.2),
    "edge": Style(stroke=INK, width=0.45),
    "edge-thin": Style(stroke=INK, width=0.3),
    "hold-hatch": Style(stroke=SOFT_INK, width=0.2),
    "part": Style(fill=PART),
    "outline": Style(stroke=INK, width=0.6),
    "outline-line": Style(stroke=INK, width=0.6),
    "pocket": Style(fill=POCKET, stroke=INK, width=0.3),
    "pocket-under": Style(stroke=INK, width=0.3, dash=(1.6, 0.9)),
    "contour": Style(stroke=SLATE, width=0.3),
    "contour-hatch": Style(stroke=SLATE, width=0.15),
    "under-hatch": Style(stroke=SOFT_INK, width=0.15),
    "cutout": Style(fill=PAPER, stroke=INK, width=0.5),
    "cutout-cross": Style(stroke=INK, width=0.2),
    "hole": Style(fill=PAPER, stroke=INK, width=0.35),
    "pocket-small": Style(fill=POCKET, stroke=INK, width=0.18),
    "contour-small": Style(stroke=SLATE, width=0.18),
    "cutout-small": Style(fill=PAPER, stroke=INK, width=0.25),
    "hole-small": Style(fill=PAPER, stroke=INK, width=0.2),
    "center": Style(stroke=SOFT_INK, width=0.25, dash=(3.0, 0.8, 0.6, 0.8)),
    "room": Style(stroke=INK, width=0.22, dash=(5.0, 3.0)),
    "tab": Style(fill=PART, stroke=INK, width=0.3),
    "tear": Style(stroke=MADDER, width=0.35),
    "watch": Style(stroke=SOFT_INK, width=0.25, dash=(0.4, 0.9)),
    "cutter": Style(stroke=SLATE, width=0.3, dash=(0.9, 0.7)),
    "seam": Style(stroke=PLUM, width=0.8, dash=(4.0, 0.8)),
    "seam-thin": Style(stroke=PLUM, width=0.4, dash=(4.0, 0.8)),
    "line-slate": Style(stroke=SLATE, width=0.35),
    "defect": Style(stroke=MADDER, width=0.4),
    "defect-ring": Style(stroke=MADDER, width=0.2),
    "defect-hatch": Style(stroke=MADDER, width=0.25),
    "defect-dot": Style(fill=MADDER),
    "leftover": Style(stroke=MOSS, width=0.35),
    "leftover-hatch": Style(stroke=MOSS, width=0.18),
    "rectangle": Style(stroke=MOSS, width=0.5, dash=(2.0, 1.0)),
    "grain": Style(stroke=INK, width=0.5),
    "grain-head": Style(fill=INK),
    "section": Style(stroke=PLUM, width=0.5),
    "section-head": Style(fill=PLUM),
    "table": Style(fill=("#eee7da", "#2f2823"), stroke=SOFT_INK, width=0.4),
    "travel": Style(stroke=SLATE, width=0.5, dash=(2.4, 1.2)),
    "keep-out": Style(stroke=MADDER, width=0.4),
    "keep-out-hatch": Style(stroke=MADDER, width=0.25),
    "open-end": Style(fill=MOSS),
    "zero": Style(fill=PAPER, stroke=INK, width=0.4),
    "zero-fill": Style(fill=INK),
    "zero-cross": Style(stroke=INK, width=0.35),
    "pin": Style(fill=PAPER, stroke=SLATE, width=0.6),
    "pin-fill": Style(fill=SLATE),
    "clamp": Style(stroke=SLATE, width=0.5),
    "clamp-hatch": Style(stroke=SLATE, width=0.2),
    "clamp-head": Style(fill=SLATE),
    "key": Style(stroke=PLUM, width=0.3, dash=(0.9, 0.5)),
    "joint-edge": Style(stroke=PLUM, width=0.9),
    "saw-cut": Style(stroke=PLUM, width=0.7),
    "stand": Style(stroke=INK, width=1.1),
    "mark": Style(fill=PLUM),
    "off-dot": Style(fill=SOFT_INK),
    "axis": Style(stroke=SLATE, width=0.7, dash=(2.8, 0.7, 0.7, 0.7, 0.7, 0.7)),
    "axis-arrow": Style(stroke=SLATE, width=0.6),
    "axis-head": Style(fill=SLATE),
    "datum": Style(stroke=SLATE, width=0.35, dash=(2.6, 0.7, 0.7, 0.7)),
    "dim": Style(stroke=INK, width=0.2),
    "dim-head": Style(fill=INK),
    "leader": Style(stroke=INK, width=0.2),
    "check": Style(stroke=INK, width=0.2),
    "scale-dark": Style(fill=INK, stroke=INK, width=0.2),
    "scale-light": Style(fill=PAPER, stroke=INK, width=0.2),
    "mask": Style(fill=("#ffffff", "#ffffff")),
    "tile": Style(stroke=SOFT_INK, width=0.15, dash=(2.0, 2.0)),
    "frame": Style(stroke=INK, width=0.35),
    "rule": Style(stroke=SOFT_INK, width=0.2),
    "band": Style(fill=("#efe7d8", "#2f2823")),
    "text": Style(fill=INK, halo=True),
    "text-bold": Style(fill=INK, bold=True, halo=True),
    "text-soft": Style(fill=SOFT_INK, halo=True),
    "text-defect": Style(fill=MADDER, bold=True, halo=True),
    "text-leftover": Style(fill=MOSS, bold=True, halo=True),
    "text-seam": Style(fill=PLUM, bold=True, halo=True),
    "text-slate": Style(fill=SLATE, bold=True, halo=True),
    "text-tab": Style(fill=INK, bold=True, halo=True),
    "plain": Style(fill=INK),
    "plain-bold": Style(fill=INK, bold=True),
    "plain-soft": Style(fill=SOFT_INK),
}


def css(prefix: str, night: bool) -> str:
    """Return rules for every style, one a line, for a page that holds pictures.

    Parameters
    ----------
    prefix : str
        Put before each selector, as ``.picture ``.
    night : bool
        Whether to take the dark colors; only colors are given then.
    """
    k = 1 if night else 0
    rules = []
    for name, style in STYLES.items():
        body = [f"fill:{style.fill[k] if style.fill else 'none'}"]
        if style.stroke:
            body.append(f"stroke:{style.stroke[k]}")
        if style.halo:
            body.append(f"stroke:{PAPER[k]}")
        rules.append(f"{prefix}.{name}{{{';'.join(body)}}}")
    return "\n".join(rules)
