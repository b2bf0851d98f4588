"""Names of a bed's axes and ends, of a blank's edges and faces."""

from __future__ import annotations

from typing import Literal

Axis = Literal["x", "y"]
OpenEnd = Literal["x-", "x+", "y-", "y+"]
BlankEdge = Literal["lower", "upper", "left", "right"]
#: Face of the wood from which something is cut.
CutFace = Literal["top", "bottom", "through"]
