"""The first door of this room: glue-ups of one part from pieces of the rack."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nestyield.glueup.realise import Realised, realise
from nestyield.glueup.rules import SeamRules
from nestyield.glueup.search import Search
from nestyield.model import Part, Piece, Settings

#: Most orders of each larger size looked at closely, for each step of effort.
TRIES = 400


def rules_of(settings: Settings) -> SeamRules:
    """Return the seam rules of a shop's settings, the trade's usual figures where it sets none."""
    usual, given = SeamRules(), settings.glueup

    def number(key: str, otherwise: float) -> float:
        value = given.get(key)
        return float(value) if isinstance(value, int | float) else otherwise

    return SeamRules(
        least_width_mm=number("least_piece_width_mm", usual.least_width_mm),
        moisture_difference=number("moisture_difference", usual.moisture_difference),
    )


def find(
    part: Part,
    pieces: Sequence[Piece],
    settings: Settings,
    value: Callable[[Piece], float],
    *,
    wanted: int = 6,
    effort: int = 3,
) -> list[Realised]:
    """Return glue-ups that hold a part, best placed seams for each set of pieces, cheaper sets first.

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

    Returns
    -------
    list of Realised
    """
    most = settings.glueup.get("most_pieces", 4)
    most = most if isinstance(most, int) else 4
    if most < 2 or part.grain_deg is None or len(pieces) == 0:
        return []
    search = Search(part, pieces, settings, value, rules_of(settings))
    chains = search.chains(most, wanted, TRIES * max(1, effort))
    return [realise(chain, settings, f"glue-up {k + 1}") for k, chain in enumerate(chains[:wanted])]
