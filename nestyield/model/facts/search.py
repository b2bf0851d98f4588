"""How much was tried to reach a plan, and what was not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutsTried:
    """What the plan was chosen from.

    Parameters
    ----------
    code : str
    layouts : int
        Layouts of single pieces.
    rows, of_rows : int
        Rows of the rack that were tried, and all.
    glue_ups : int
        Glue-ups found beside them.
    """

    code: Literal["layouts tried"] = "layouts tried"
    layouts: int
    rows: int
    of_rows: int
    glue_ups: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsRuledOut:
    """Rows that might be usable, but could not lower the value of the stock used: not tried, without loss.

    Parameters
    ----------
    code : str
    rows : int
    """

    code: Literal["rows ruled out"] = "rows ruled out"
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsNotTried:
    """Rows that might be usable, but were not tried before the run was stopped.

    Parameters
    ----------
    code : str
    rows : int
    """

    code: Literal["rows not tried"] = "rows not tried"
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchesLeft:
    """Searches for denser layouts that might gain, but that the effort did not allow.

    Parameters
    ----------
    code : str
    searches : int
    """

    code: Literal["searches left"] = "searches left"
    searches: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueUpsLeft:
    """Glue-ups that might gain, but that the effort did not allow.

    Parameters
    ----------
    code : str
    parts : int
        Parts, each for its choice of beds, for which there are more.
    """

    code: Literal["glue-ups left"] = "glue-ups left"
    parts: int


Untried = Annotated[RowsRuledOut | RowsNotTried | SearchesLeft | GlueUpsLeft, Discriminator("code")]
