"""The first door of this room: glue-ups of one part from pieces of the rack."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nestyield.glueup.chains import Interest
from nestyield.glueup.realize import GlueUpLayout, realize
from nestyield.glueup.seams import SETTLED_UM
from nestyield.glueup.search import Search
from nestyield.model import Part, Piece, Settings
from nestyield.model.pose import Pose
from nestyield.placement.check import filled_ml
from nestyield.placement.constraint import Constraint
from nestyield.placement.depth import thickness_splits
from nestyield.placement.problem import build

#: Most orders of each larger size looked at closely, for each step of effort.
TRIES = 400


def find(
    part: Part,
    pieces: Sequence[Piece],
    settings: Settings,
    value: Callable[[Piece], float],
    *,
    wanted: int = 6,
    effort: int = 3,
    strict: bool | None = None,
    constraints: Sequence[Constraint] = (),
) -> list[GlueUpLayout]:
    """Return glue-ups that hold a part, best placed seams for each set of pieces, cheaper sets first.

    When none keeps the rules about where seams run and the shop lets them be broken, those that break them
    least.

    Parameters
    ----------
    part : Part
    pieces : sequence of Piece
        Ready, and suitable by species and thickness.
    settings : Settings
    value : callable
        Value of one copy of a piece.
    wanted : int
        Most glue-ups returned.
    effort : int
        Steps of search.
    strict : bool, optional
        Whether rules must be kept; as the shop says when left out.
    constraints : sequence of Constraint
        Each holds for the member that is cut from its piece.

    Returns
    -------
    list of GlueUpLayout
    """
    if settings.glueup.most_pieces < 2 or part.grain_deg is None or len(pieces) == 0:
        return []
    search = Search(part, pieces, settings, value, settings.glueup, constraints)
    return sets_of(search, wanted=wanted, effort=effort, strict=strict)


def sets_of(
    search: Search,
    *,
    wanted: int,
    effort: int,
    strict: bool | None = None,
    interest: Interest | None = None,
) -> list[GlueUpLayout]:
    """Return the glue-ups of a search as `find` does.

    Parameters
    ----------
    search : Search
        Its value of each row may have been set anew; one that is not finite leaves the row out.
    wanted, effort : int
    strict : bool, optional
    interest : Interest, optional
    """
    part, settings, most = search.part, search.settings, search.rules.most_pieces
    interest = interest or Interest()
    strict = search.rules.strict if strict is None else strict
    for keep in (True,) if strict else (True, False):
        for filling in (True, False) if part.fill_limit_ml is not None else (True,):
            chains = search.chains(
                most, wanted, TRIES * max(1, effort), strict=keep, filling=filling, interest=interest
            )
            chains = [c for c in chains if c.seams.violation_um <= chains[0].seams.violation_um + SETTLED_UM]
            made = [realize(chain, settings, f"glue-up {k + 1}") for k, chain in enumerate(chains[:wanted])]
            search.cut_short |= len(chains) > wanted
            if made := [glued for glued in made if _within_limit(part, glued, settings)]:
                return made
    return []


def _within_limit(part: Part, glued: GlueUpLayout, settings: Settings) -> bool:
    """Tell whether a glue-up needs no more filler than the part may have."""
    if part.fill_limit_ml is None or not glued.blank.defects:
        return True
    split = thickness_splits(part, glued.blank, settings.planing_mm, True)[0]
    problem = build(part, glued.blank, settings, split)
    at = glued.placement
    return filled_ml(problem, Pose.of(at))[0] <= part.fill_limit_ml
