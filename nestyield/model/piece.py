"""What is on the rack: pieces, their defects and seams."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from nestyield.model.arc import Point
from nestyield.model.defect_kinds import DEFECTS, DefectKind
from nestyield.model.errors import ModelError
from nestyield.model.outline import Shape

PieceFace = Literal["top", "bottom", "through"]
Status = Literal["ready", "hold", "taken"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """A flaw of a piece, in the piece's coordinates.

    Parameters
    ----------
    name : str
        Row of the defect table, as ``defects.csv row 7``, or a drawing's layer and handle.
    kind : str
        One of ``DEFECTS``.
    shape : Shape
        Region seen from the top, millimeters.
    face : {"top", "bottom", "through"}
        Face from which the depth counts.
    depth_mm : float or None
        Depth from that face; None means through the whole thickness.
    start_mm : float
        Sound wood between that face and the defect, in a layer of a laminated blank; 0 where it begins there.
    """

    name: str
    kind: str
    shape: Shape
    face: PieceFace = "through"
    depth_mm: float | None = None
    start_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in DEFECTS:
            raise ModelError(f"expected {self.name} to be one of {', '.join(DEFECTS)}, got {self.kind!r}")
        if self.depth_mm is not None and not self.depth_mm > 0:
            raise ModelError(f"expected depth_mm > 0 for {self.name}, got {self.depth_mm}")
        if not 0.0 <= self.start_mm < (self.depth_mm or (0.0 if self.start_mm else 1.0)):
            raise ModelError(f"expected 0 <= start_mm < depth_mm for {self.name}, got {self.start_mm}")

    @property
    def traits(self) -> DefectKind:
        """What its kind is."""
        return DEFECTS[self.kind]

    def span_mm(self, thickness_mm: float) -> tuple[float, float]:
        """Return from which depth below the top face of a piece of some thickness to which it reaches."""
        if self.face == "through" or self.depth_mm is None:
            return 0.0, thickness_mm
        deep, start = min(self.depth_mm, thickness_mm), min(self.start_mm, thickness_mm)
        if self.face == "bottom":
            return thickness_mm - deep, thickness_mm - start
        return start, deep


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """A glued joint line in a blank.

    Parameters
    ----------
    name : str
        ``seam 1``, ``seam 2`` ... of its blank.
    line_mm : tuple of points
        At least two points, blank coordinates, millimeters. A seam of a glue-up has the next member on
        its left.
    """

    name: str
    line_mm: tuple[Point, ...]

    def __post_init__(self) -> None:
        if len(self.line_mm) < 2:
            raise ModelError(f"expected at least 2 points in {self.name}, got {len(self.line_mm)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One row of the rack: an offcut, board, sheet or glued-up blank, perhaps several alike.

    Parameters
    ----------
    name : str
        What the maker writes on it; unique.
    shelf, species, note, parent : str
        As in the table.
    thickness_mm : float
    shape : Shape
        Seen from the top, millimeters.
    grain_deg : float or None
        Direction of the grain, counter-clockwise from the length (X); None for sheets without grain.
    moisture_pct : float or None
        Moisture content.
    count : int
        How many alike, at least 1.
    value : float or None
        Value of one, in the maker's money; None when the shop file's value table decides.
    status : {"ready", "hold", "taken"}
        Only ``ready`` pieces are planned.
    defects : tuple of Defect
        Present in each copy.
    seams : tuple of Seam
        Joints of a piece that is already glued up.
    row : int
        Row in the rack table (1 is the header), 0 when made in code.
    measured_mm : float
        How far off its outline and the places of its defects may be.
    weight_kg : float or None
        What one weighs as it lies on the rack; None where it was not weighed.
    weight_off_kg : float
        How far off that may be, by the digits in which it is written.
    """

    name: str
    shelf: str = ""
    species: str
    thickness_mm: float
    shape: Shape
    grain_deg: float | None = 0.0
    moisture_pct: float | None = None
    count: int = 1
    value: float | None = None
    status: Status = "ready"
    parent: str = ""
    note: str = ""
    defects: tuple[Defect, ...] = ()
    seams: tuple[Seam, ...] = ()
    row: int = 0
    measured_mm: float = 0.0
    weight_kg: float | None = None
    weight_off_kg: float = 0.0

    @property
    def board(self) -> str:
        """Name of the board that it is of: the row that it was cut from, else its own."""
        return self.name if not self.parent or " + " in self.parent else self.parent

    def of_thickness(self, thickness_mm: float) -> Piece:
        """Return the piece in another thickness, its wood as dense as before."""
        share = thickness_mm / self.thickness_mm
        return replace(
            self,
            thickness_mm=thickness_mm,
            weight_kg=None if self.weight_kg is None else self.weight_kg * share,
            weight_off_kg=self.weight_off_kg * share,
        )

    def __post_init__(self) -> None:
        if not self.thickness_mm > 0:
            raise ModelError(f"expected thickness_mm > 0 for piece {self.name!r}, got {self.thickness_mm}")
        if not 0 <= self.measured_mm < math.inf:
            raise ModelError(f"expected measured_mm >= 0 for piece {self.name!r}, got {self.measured_mm}")
        if self.weight_kg is not None and not 0 < self.weight_kg < math.inf:
            raise ModelError(f"expected weight_kg > 0 for piece {self.name!r}, got {self.weight_kg}")
        if self.count < 0:
            raise ModelError(f"expected count >= 0 for piece {self.name!r}, got {self.count}")
