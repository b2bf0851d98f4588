"""The drawings of a shop folder, each read once, and the settings that go with them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import PurePosixPath

from nestyield.intake.drawing import read_drawing
from nestyield.intake.dxf_units import UnitRule
from nestyield.intake.files import ShopFiles
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.outlines import Closed, closed_outlines
from nestyield.intake.problems import Problems


@dataclass(slots=True, kw_only=True)
class Drawings:
    """Reads drawings of a shop folder.

    Parameters
    ----------
    files : ShopFiles
    chaining_mm : float
        Widest gap closed between ends.
    fallback : str or None
        Unit of drawings that do not say theirs.
    """

    files: ShopFiles
    chaining_mm: float
    fallback: str | None = None
    _drawings: dict[tuple[str, str | None, bool], Drawing | None] = field(default_factory=dict)
    _outlines: dict[tuple[int, str], list[Closed] | None] = field(default_factory=dict)

    @property
    def problems(self) -> Problems:
        """Where problems go."""
        return self.files.problems

    def get(
        self,
        name: str,
        stated: str | None,
        overrule: bool,
        file: str,
        where: str,
        key: str,
        code: str,
        said_at: str = "",
    ) -> Drawing | None:
        """Read a drawing, or return it if it was read before.

        Parameters
        ----------
        name : str
            File name as written by the maker.
        stated : str or None
            Its unit, where the maker says it.
        overrule : bool
            The maker's unit counts against the drawing's own.
        file, where : str
            The place that names the drawing.
        key : str
            The same in words, for messages about the unit.
        code : str
            Finding code when the file is missing.
        said_at : str
            Where ``stated`` stands in ``file``; as ``where`` when left out.

        Returns
        -------
        Drawing or None
        """
        found = (PurePosixPath(name).as_posix(), stated, overrule)
        if found in self._drawings:
            return self._drawings[found]
        drawing = None
        data = self.files.read(name, code, file, where)
        path = self.files.path(name, file, where) if data is not None else None
        if data is not None and path is not None:
            place = (file, said_at or where)
            rule = UnitRule(stated=stated, fallback=self.fallback, overrule=overrule, place=place)
            drawing = read_drawing(path, data, found[0], rule, key, self.problems)
        self._drawings[found] = drawing
        return drawing

    def closed(self, drawing: Drawing, layer: Layer) -> list[Closed] | None:
        """Return the closed outlines of a layer; None when there was an error, which is told once."""
        key = (id(drawing), layer.name.casefold())
        if key not in self._outlines:
            self._outlines[key] = closed_outlines(drawing, layer, self.chaining_mm, self.problems)
        return self._outlines[key]
