"""The questions of a script: place one part, nest many, glue up, fit a bed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from nestyield.bed.fit import setups
from nestyield.core.laid import Laid
from nestyield.glueup.find import find
from nestyield.model import Bed, Certificate, ModelError, Part, Piece, Settings, Setup
from nestyield.placement.constraint import Constraint
from nestyield.placement.relaxation import relaxations
from nestyield.placement.single import place_part
from nestyield.placement.stock import blank_of, unsuitable


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Whether and where one part goes on a piece.

    Parameters
    ----------
    laid : Laid or None
        With the parts that lay there before.
    verdict : {"placed", "infeasible", "tight", "undecided", "unsuitable"}
        Infeasible: no place at any allowed angle. Tight: none with 0.05 mm to spare. Unsuitable: wrong wood.
    refusal : fact of ``nestyield.model.facts`` or None
    certificate : Certificate or None
        Why there is no place at any angle; only for an empty piece.
    relaxations : tuple of facts
        Each of what would let it in, such as a narrower margin or a longer piece.
    """

    laid: Laid | None
    verdict: str
    refusal: Any = None
    certificate: Certificate | None = None
    relaxations: tuple[Any, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    """Many parts on some pieces.

    Parameters
    ----------
    laid : tuple of Laid
        One a piece that carries something.
    left : dict of str to int
        Copies that found no place, by part.
    """

    laid: tuple[Laid, ...]
    left: dict[str, int]


def place(
    part: Part,
    piece: Piece,
    settings: Settings,
    *,
    beside: Laid | None = None,
    constraints: Sequence[Constraint] = (),
) -> Placed:
    """Place one part on a piece at any angle that its grain tolerance allows, or tell why it does not go.

    Parameters
    ----------
    part : Part
    piece : Piece
    settings : Settings
    beside : Laid, optional
        Parts that already lie on the piece; without it the piece is empty.
    constraints : sequence of Constraint
    """
    if (refusal := unsuitable(part, piece, settings)) is not None:
        return Placed(laid=None, verdict="unsuitable", refusal=refusal)
    blank = blank_of(piece) if beside is None else beside.blank
    taken = () if beside is None else beside.placed
    answer = place_part(part, blank, settings, taken=taken, constraints=constraints)
    if answer.placement is not None:
        laid = Laid(blank=blank, placed=(*taken, (part, answer.placement)), settings=settings)
        return Placed(laid=laid, verdict="placed")
    return Placed(
        laid=None,
        verdict=answer.verdict,
        refusal=answer.refusal,
        certificate=answer.certificate,
        relaxations=relaxations(part, blank, settings, taken, constraints),
    )


def nest(
    parts: Sequence[tuple[Part, int]],
    pieces: Sequence[Piece],
    settings: Settings,
    *,
    effort: int = 3,
    seed: int = 1,
    workers: int = 1,
    constraints: Sequence[Constraint] = (),
) -> Nested:
    """Lay copies of parts on pieces, as much area as will go on each, one piece after the other.

    Parameters
    ----------
    parts : sequence of (Part, int)
        With the copies wanted; all of one thickness.
    pieces : sequence of Piece
        In the order in which they are filled; a row of several alike is several pieces.
    settings : Settings
    effort, seed : int
        The same give the same layout, with any number of workers.
    workers : int
        Threads.
    constraints : sequence of Constraint

    Raises
    ------
    ModelError
        When parts differ in thickness, share a name, or a count is below 0.
    """
    from nestyield.nesting.on_blank import pack_blank  # imports the compiler

    if len({p.thickness_mm for p, _ in parts}) > 1:
        raise ModelError("expected parts of one thickness, got several; nest each thickness by itself")
    if len({p.name for p, _ in parts}) < len(parts):
        raise ModelError("expected parts with names of their own, got one twice")
    left = {p.name: n for p, n in parts}
    if any(n < 0 for n in left.values()):
        raise ModelError(f"expected counts >= 0, got {left}")
    out = []
    for piece in pieces:
        for copy in range(piece.count):
            asked = [(p, left[p.name]) for p, _ in parts if unsuitable(p, piece, settings) is None]
            if not any(n for _, n in asked):
                continue
            blank = blank_of(piece, copy + 1)
            found = pack_blank(
                asked, blank, settings, max(1, effort), seed, constraints=constraints, workers=workers
            )
            if found.packed:
                placed = tuple((asked[k][0], at) for k, at in found.packed)
                out.append(Laid(blank=blank, placed=placed, settings=settings))
                for p, _ in placed:
                    left[p.name] -= 1
    return Nested(laid=tuple(out), left=left)


def glue(
    part: Part,
    pieces: Sequence[Piece],
    settings: Settings,
    *,
    most: int = 6,
    effort: int = 3,
    constraints: Sequence[Constraint] = (),
) -> list[Laid]:
    """Find glue-ups of two or more pieces that hold a part, those that take least wood first.

    Parameters
    ----------
    part : Part
        With grain.
    pieces : sequence of Piece
    settings : Settings
        ``settings.glueup`` has the rules about seams and pieces.
    most : int
        Glue-ups returned at the most.
    effort : int
    constraints : sequence of Constraint
        Each holds for the member that comes from its piece.
    """
    usable = [p for p in pieces if p.grain_deg is not None and unsuitable(part, p, settings) is None]
    found = find(
        part,
        usable,
        settings,
        lambda p: p.shape.area_mm2,
        wanted=most,
        effort=effort,
        constraints=constraints,
    )
    return [Laid(blank=g.blank, placed=((part, g.placement),), settings=settings) for g in found]


def fit_bed(laid: Laid, beds: Sequence[Bed]) -> tuple[Setup, ...]:
    """Lay a blank with its parts on beds, along X and along Y of each, also in sections.

    Parameters
    ----------
    laid : Laid
        With at least one part.
    beds : sequence of Bed

    Returns
    -------
    tuple of Setup
        ``fits`` or ``is_usable``, with the travel to spare or what the bed refuses.

    Raises
    ------
    ModelError
        When nothing lies on the blank.
    """
    if not laid.placed:
        raise ModelError("expected a part on the blank, got none: place one first")
    return setups(laid.blank, laid.placed, beds, laid.settings)
