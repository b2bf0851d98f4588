"""The two units of length that a shop may write in."""

from __future__ import annotations

from typing import Literal

Units = Literal["mm", "in"]
