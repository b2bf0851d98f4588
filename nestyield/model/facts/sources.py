"""Where a figure comes from: a key of the table of sources in ``paperwork/phrases/wood.py``."""

from __future__ import annotations

from typing import Literal

#: How far a figure can be trusted: ``S`` read in the source, ``M`` from memory, ``D`` derived, ``P`` common
#: practice without a source, ``O`` the maker's own figure.
Mark = Literal["S", "M", "D", "P", "O"]

#: A citation, or the practice of the trade.
SourceKey = Literal["GTR-190 joints", "GTR-190 scarf", "FPL 1522", "HSE saw", "PVA practice", "practice"]
