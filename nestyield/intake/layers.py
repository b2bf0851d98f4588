"""What a drawing holds, by layer."""

from __future__ import annotations

from dataclasses import dataclass, field

from nestyield.intake.curve import Curve
from nestyield.model import Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerItem:
    """A curve of a drawing and where it came from.

    Parameters
    ----------
    curve : Curve
    label : str
        Kind and handle, as ``LINE 2F`` or ``ARC 3A in block KNOB (INSERT 41)``.
    """

    curve: Curve
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something to tell about an entity if its layer is used.

    Parameters
    ----------
    severity, code, message
        As in a finding.
    where : str
        Layer and entity.
    """

    severity: Severity
    code: str
    message: str
    where: str


@dataclass(slots=True)
class Layer:
    """What a drawing has on one layer.

    Parameters
    ----------
    name : str
        As the drawing spells it.
    items : list of LayerItem
    remarks : list of Remark
    hidden : str
        ``off`` or ``frozen``, or ``""``.
    """

    name: str
    items: list[LayerItem] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    hidden: str = ""


@dataclass(slots=True)
class Drawing:
    """A drawing that was read.

    Parameters
    ----------
    file : str
    unit : str
        Name of its unit.
    unit_mm : float
    layers : dict of str to Layer
        By name in one case (``str.casefold``), sorted by name.
    """

    file: str
    unit: str
    unit_mm: float
    layers: dict[str, Layer]

    def place(self, x_mm: float, y_mm: float) -> str:
        """Return a place in the drawing's own units, for a finding."""
        x, y = (f"{v / self.unit_mm:.6g}" for v in (x_mm, y_mm))
        return f"at x {x}, y {y} {self._short}"

    def length(self, length_mm: float) -> str:
        """Return a length in the drawing's own units, for a finding."""
        return f"{length_mm / self.unit_mm:.4g} {self._short}"

    @property
    def _short(self) -> str:
        return {25.4: "in", 1.0: "mm", 10.0: "cm", 1000.0: "m"}.get(self.unit_mm, self.unit)
