"""What each kind of defect is: one row a kind, asked by every room; a new kind is a new row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Pattern = Literal["rings", "along", "slant", "dots", "cross", "sparse", "solid"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectKind:
    """What a kind of defect does to a part, an edge and a cutter, and how drawings mark it.

    Parameters
    ----------
    name : str
        As tables and shop file write it.
    letters : str
        Stand beside it in drawings.
    pattern : {"rings", "along", "slant", "dots", "cross", "sparse", "solid"}
        Fills it in drawings; ``along`` runs with the grain.
    metal : bool
        It is metal: always refused in a part, and the cutter keeps clear of it.
    may_hold_metal : bool
        A fastener may still be in it.
    knot : bool
    loose : bool
        It may come off under a cutter.
    wood_missing : bool
        Where it lies at an edge, the edge is not sound.
    keep_clear : bool
        A hole or metal: what is cut keeps the shop's clearance from it where there is room.
    clear : bool
        It leaves a face clear in grading (M: sapwood is wood; some species have rules of their own).
    sound : bool
        A pin or screw beside it holds as well as in clear wood.
    """

    name: str
    letters: str
    pattern: Pattern
    metal: bool = False
    may_hold_metal: bool = False
    knot: bool = False
    loose: bool = False
    wood_missing: bool = False
    keep_clear: bool = False
    clear: bool = False
    sound: bool = False


_ROWS = (
    DefectKind(name="knot", letters="K", pattern="rings", knot=True),
    DefectKind(name="loose knot", letters="LK", pattern="rings", knot=True, loose=True, wood_missing=True),
    DefectKind(name="check", letters="CH", pattern="along"),
    DefectKind(name="split", letters="SP", pattern="along", loose=True, wood_missing=True),
    DefectKind(name="shake", letters="SH", pattern="along", loose=True),
    DefectKind(name="bark", letters="BK", pattern="slant", loose=True, wood_missing=True),
    DefectKind(name="wane", letters="WN", pattern="slant", wood_missing=True),
    DefectKind(name="live edge", letters="LE", pattern="slant", wood_missing=True),
    DefectKind(name="rough edge", letters="RE", pattern="slant", wood_missing=True),
    DefectKind(name="worm", letters="WM", pattern="dots"),
    DefectKind(name="rot", letters="RT", pattern="dots", loose=True, wood_missing=True),
    DefectKind(name="pith", letters="PI", pattern="along"),
    DefectKind(name="pitch", letters="PT", pattern="slant"),
    DefectKind(name="screw hole", letters="SC", pattern="cross", may_hold_metal=True, keep_clear=True),
    DefectKind(name="nail hole", letters="NL", pattern="cross", may_hold_metal=True, keep_clear=True),
    DefectKind(name="mortise", letters="MO", pattern="cross", wood_missing=True, keep_clear=True),
    DefectKind(name="drilled hole", letters="DH", pattern="cross", wood_missing=True, keep_clear=True),
    DefectKind(name="dent", letters="DE", pattern="sparse", wood_missing=True),
    DefectKind(name="stain", letters="ST", pattern="sparse", sound=True),
    DefectKind(name="sapwood", letters="SW", pattern="sparse", clear=True, sound=True),
    DefectKind(name="metal", letters="MT", pattern="solid", metal=True, may_hold_metal=True, keep_clear=True),
    DefectKind(name="other", letters="OT", pattern="slant"),
)

DEFECTS: Mapping[str, DefectKind] = {row.name: row for row in _ROWS}

#: Kinds of defect that the defect table may name.
DEFECT_KINDS = tuple(DEFECTS)
