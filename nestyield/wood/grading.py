"""What a board makes by the hardwood rules, and how much of it is clear.

By the NHLA summary charts (see :mod:`nestyield.wood.grades`): the cuttings are found by search on each
face, and the poorer face decides. Not modeled: FAS one face and Selects, limits of wane, pith, splits
and warp, sound backs of cuttings, boards of surface measure 1 in the better grades, rules of a species.
It is a guide for buying and sorting; an inspector's tally is made by an inspector.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from nestyield.model import Piece
from nestyield.model.facts import (
    BoardTooSmall,
    GradeMiss,
    KnotTooLarge,
    NoCuttingAllowed,
    TooFewUnits,
    UnitsShort,
)
from nestyield.wood.clear import Box, clear_boxes
from nestyield.wood.cuttings import LeastSizes, best_cuttings
from nestyield.wood.face import TICKS_PER_IN, BoardFace, Face, ticks
from nestyield.wood.grades import BELOW_GRADE, GRADES, NO_LIMIT, Grade
from nestyield.wood.measure import board_feet, surface_measure

_UM_PER_IN = 25_400
#: Square ticks in a cutting unit of 1 in x 1 ft.
UNIT = TICKS_PER_IN * TICKS_PER_IN * 12
#: Cuttings tried one after the other where the rules set no limit.
_MOST_TRIED = (2, 4, 8, 12)

#: Below grade the rules are silent: so many clear cuttings of at least so much length and width (P).
BELOW_GRADE_CUTTINGS = 4
LEAST_MM = (200.0, 50.0)

Rectangle = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceGrade:
    """What one face makes.

    Parameters
    ----------
    face : {"top", "bottom"}
    grade : str
        Name of the grade, or ``below grade``.
    cuttings_mm : tuple of (x0, y0, x1, y1)
        Clear cuttings in the piece's coordinates, seen from the top, millimeters.
    units : float
        Clear cutting units in them.
    counted : int
        The same with the fraction of each cutting dropped (M).
    needed : int
        Units that the grade needs; 0 below grade.
    allowed : int
        Cuttings that the grade allows; below grade 4.
    clear_yield : float
        Area of the cuttings over that of the face, 0 to 1.
    best : bool
        Whether no other set of so many cuttings can hold more.
    largest_mm : (x0, y0, x1, y1) or None
        The largest clear rectangle.
    why_not_better : GradeMiss or None
        What keeps it from the next better grade; None for the best grade.
    """

    face: Face
    grade: str
    cuttings_mm: tuple[Rectangle, ...]
    units: float
    counted: int
    needed: int
    allowed: int
    clear_yield: float
    best: bool
    largest_mm: Rectangle | None
    why_not_better: GradeMiss | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardGrade:
    """What a board makes.

    Parameters
    ----------
    piece, species : str
    count : int
        How many alike.
    length_mm, width_mm : float
        Along and across the grain; of the box around a board that is no rectangle.
    surface_measure : int
        Square feet; the width of a board that is no rectangle is its area over its length (P).
    board_feet : float
        Of its true volume.
    top, bottom : FaceGrade
    """

    piece: str
    species: str
    count: int
    length_mm: float
    width_mm: float
    surface_measure: int
    board_feet: float
    top: FaceGrade
    bottom: FaceGrade

    @property
    def poorer(self) -> FaceGrade:
        """The face that decides."""
        rank = [g.name for g in GRADES] + [BELOW_GRADE]
        return max((self.top, self.bottom), key=lambda f: (rank.index(f.grade), -f.clear_yield))

    @property
    def grade(self) -> str:
        """The board's grade."""
        return self.poorer.grade


@dataclass(frozen=True, slots=True)
class _Found:
    boxes: tuple[Box, ...]
    best: bool

    @property
    def units(self) -> Fraction:
        return Fraction(sum(_area(b) for b in self.boxes), UNIT)

    @property
    def counted(self) -> int:
        return sum(_area(b) // UNIT for b in self.boxes)


def _area(box: Box) -> int:
    return (box[2] - box[0]) * (box[3] - box[1])


def is_board(piece: Piece) -> bool:
    """Return whether a piece can be graded: solid wood with a grain, in one piece."""
    return piece.grain_deg is not None and not piece.seams


def grade_board(piece: Piece, least_mm: tuple[float, float] = LEAST_MM) -> BoardGrade:
    """Return what a board makes.

    Parameters
    ----------
    piece : Piece
        With a grain direction; its length is taken along X or Y, whichever the grain is nearer.
    least_mm : (float, float)
        Least length and width of a cutting below grade, where the rules say nothing.
    """
    face = BoardFace(piece, "top")
    sides = face.length * 25.4 / TICKS_PER_IN, face.width * 25.4 / TICKS_PER_IN
    width = Fraction(face.width, TICKS_PER_IN)
    if not face.rectangle:
        width = Fraction(ticks(face.area_mm2 / sides[0]), TICKS_PER_IN)
    measure = surface_measure(Fraction(face.length, TICKS_PER_IN), width)
    top = _grade_face(face, "top", measure, least_mm)
    under = BoardFace(piece, "bottom")
    if (under.boxes, under.knots) == (face.boxes, face.knots):
        bottom = replace(top, face="bottom")
    else:
        bottom = _grade_face(under, "bottom", measure, least_mm)
    return BoardGrade(
        piece=piece.name,
        species=piece.species,
        count=piece.count,
        length_mm=sides[0],
        width_mm=sides[1],
        surface_measure=measure,
        board_feet=board_feet(face.area_mm2 * piece.thickness_mm),
        top=top,
        bottom=bottom,
    )


def _grade_face(face: BoardFace, name: Face, measure: int, least_mm: tuple[float, float]) -> FaceGrade:
    why: GradeMiss | None = None
    for grade in GRADES:
        made = _try(face, grade, measure)
        if isinstance(made, tuple):
            found, allowed, needed = made
            return _answer(face, name, grade.name, found, allowed, needed, why)
        why = made
    found = _search(face, ((ticks(least_mm[0]), ticks(least_mm[1])),), BELOW_GRADE_CUTTINGS)
    return _answer(face, name, BELOW_GRADE, found, BELOW_GRADE_CUTTINGS, 0, why)


def _try(face: BoardFace, grade: Grade, measure: int) -> tuple[_Found, int, int] | GradeMiss:
    """Return the cuttings that make a grade with those allowed and units needed, or what is missed."""
    least = tuple(v * TICKS_PER_IN for v in grade.board_in)
    if face.length < least[0] or face.width < least[1]:
        return BoardTooSmall(grade=grade.name, width_in=grade.board_in[1], length_ft=grade.board_in[0] // 12)
    if grade.knot_limit:
        over = [(size, knot) for knot, size in face.knots if size > measure / 3]
        if over:
            size, knot = max(over)
            return KnotTooLarge(
                grade=grade.name,
                knot=knot,
                size_um=round(size * _UM_PER_IN),
                most_um=round(measure * _UM_PER_IN / 3),
                surface_measure=measure,
            )
    ways = grade.ways(measure)
    if not ways:
        return NoCuttingAllowed(grade=grade.name, surface_measure=measure)
    cutting = tuple((a * TICKS_PER_IN, b * TICKS_PER_IN) for a, b in grade.cuttings_in)
    short: list[UnitsShort] = []
    for allowed, needed in ways:
        found = _search(face, cutting, allowed, needed)
        if found.counted >= needed:
            return found, allowed, needed
        most = None if allowed >= NO_LIMIT else allowed
        short.append(UnitsShort(needed=needed, cuttings=most, found=float(found.units)))
    return TooFewUnits(grade=grade.name, ways=tuple(short))


def _search(face: BoardFace, least: LeastSizes, allowed: int, needed: int = 0) -> _Found:
    """Return the best cuttings; those of most whole units where only they can reach the need."""
    found = _Found((), True)
    for most in (allowed,) if allowed < NO_LIMIT else _MOST_TRIED:
        answer = best_cuttings(face.length, face.width, face.boxes, least, most)
        found = _Found(answer.boxes, answer.bound == answer.value)
        if found.counted >= needed:
            break
    if found.counted < needed <= found.units:
        most = min(allowed, _MOST_TRIED[-1])
        whole = best_cuttings(face.length, face.width, face.boxes, least, most, unit=UNIT)
        if whole.value >= needed:
            found = _Found(whole.boxes, whole.bound == whole.value)
    return found


def _answer(
    face: BoardFace, name: Face, grade: str, found: _Found, allowed: int, needed: int, why: GradeMiss | None
) -> FaceGrade:
    whole = clear_boxes(face.length, face.width, face.boxes)
    largest = max(whole, key=lambda b: (_area(b), b), default=None)
    return FaceGrade(
        face=name,
        grade=grade,
        cuttings_mm=tuple(face.out(b) for b in found.boxes),
        units=float(found.units),
        counted=found.counted,
        needed=needed,
        allowed=allowed,
        clear_yield=float(found.units) * 12 * 25.4**2 / face.area_mm2,
        best=found.best,
        largest_mm=face.out(largest) if largest else None,
        why_not_better=why,
    )
