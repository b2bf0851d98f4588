"""Outlines, holes and defects of rack pieces that are kept in drawings."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from nestyield.intake.drawings import Drawings
from nestyield.intake.layers import Drawing, Layer
from nestyield.intake.outlines import Closed, nesting
from nestyield.intake.problems import did_you_mean, shown
from nestyield.intake.tolerates import defect_kind
from nestyield.intake.values import Values
from nestyield.intake.zones import islands
from nestyield.model import DEFECT_KINDS, Defect, PieceFace, Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerMeaning:
    """What a layer of a rack drawing holds.

    Parameters
    ----------
    role : {"outline", "hole", "defect", "ignore"}
    kind : str
        Of defect.
    face : {"top", "bottom", "through"}
    depth_mm : float or None
    """

    role: str
    kind: str = ""
    face: PieceFace = "through"
    depth_mm: float | None = None


def read_rack_layers(shop: Values) -> dict[str, LayerMeaning] | None:
    """Read ``[rack_layers]``; by layer name in one case, None when the section is absent."""
    section = shop.table("rack_layers")
    if section is None:
        return None
    meanings: dict[str, LayerMeaning] = {}
    for layer, raw in section.data.items():
        table = section.inner(raw if isinstance(raw, dict) else _from_word(raw), layer)
        v = table.read("rack_layers.*")
        if v["role"] is None:
            continue
        kind = ""
        if v["role"] == "defect":
            raw_kind = v["kind"]
            kind = (defect_kind(raw_kind) or "") if isinstance(raw_kind, str) else ""
            if not kind:
                hint = did_you_mean(raw_kind if isinstance(raw_kind, str) else "", DEFECT_KINDS, "kinds")
                table.error("S008", f"expected a kind of defect, got {shown(raw_kind)}; {hint}", "kind")
        elif v["kind"] is not None or v["depth"] is not None:
            table.error("S004", f"kind and depth have a meaning for role defect only, not {v['role']}")
        meanings[layer.casefold()] = LayerMeaning(
            role=v["role"], kind=kind, face=v["face"], depth_mm=v["depth"]
        )
    return meanings


def _from_word(raw: object) -> dict[str, object]:
    """A plain word may be a role or, in short, a kind of defect."""
    kind = defect_kind(raw) if isinstance(raw, str) else None
    return {"role": "defect", "kind": kind} if kind else {"role": raw}


def piece_from_drawing(
    cell: str,
    *,
    stated: str | None,
    drawings: Drawings,
    meanings: dict[str, LayerMeaning] | None,
    file: str,
    where: str,
    key: str,
) -> tuple[Shape | None, tuple[Defect, ...]]:
    """Read the shape of a piece, and defects drawn with it.

    Parameters
    ----------
    cell : str
        ``FILE.dxf`` or ``FILE.dxf#LAYER``.
    stated : str or None
        Unit of the drawing, where the table says it.
    drawings : Drawings
    meanings : dict of str to LayerMeaning, or None
        Without it, and without a layer in the cell, a drawing with curves on one layer only is taken as
        the outline.
    file, where, key : str
        Place in the table, for findings.

    Returns
    -------
    (Shape or None, tuple of Defect)
        None with an error when there is not exactly one outline.
    """
    problems = drawings.problems
    name, _, layer_name = (part.strip() for part in cell.partition("#"))
    drawing = drawings.get(name, stated, False, file, where, key, "D001")
    if drawing is None:
        return None, ()
    outline_layers = _outline_layers(drawing, layer_name, meanings, drawings, file, where)
    if outline_layers is None:
        return None, ()
    if meanings is not None and not layer_name:
        unnamed = [y.name for k, y in drawing.layers.items() if y.items and k not in meanings]
        unnamed = [n for n in unnamed if n not in {y.name for y in outline_layers}]
        if unnamed:
            message = f"not named in [rack_layers] and ignored: {', '.join(unnamed)}"
            problems.note("D006", message, drawing.file)
    closed: list[Closed] = []
    for layer in outline_layers:
        found = drawings.closed(drawing, layer)
        if found is None:
            return None, ()
        closed += found
    parents = nesting(closed)
    outer = [c for c, parent in zip(closed, parents) if parent is None]
    names = ", ".join(layer.name for layer in outline_layers)
    if len(outer) != 1:
        places = "; ".join(f"{c.label} {drawing.place(*c.outline.points_mm[0])}" for c in outer[:4])
        problems.error(
            "D019",
            f"expected exactly one outline around a piece, got {len(outer)}; write FILE.dxf#LAYER with "
            "one layer a "
            f"piece ({file}, {where})",
            drawing.file,
            f"layer {names}" + (f", {places}" if places else ""),
        )
        return None, ()
    shape = islands(closed)[0][0] if len(closed) == 1 else _with_holes(closed, parents)
    return _holes_and_defects(shape, outer[0], drawing, meanings or {}, drawings, file, where)


def _with_holes(closed: list[Closed], parents: list[int | None]) -> Shape:
    outer = parents.index(None)
    holes = tuple(c.outline for c, parent in zip(closed, parents) if parent == outer)
    return Shape(outer=closed[outer].outline, holes=holes)


def _outline_layers(
    drawing: Drawing,
    layer_name: str,
    meanings: dict[str, LayerMeaning] | None,
    drawings: Drawings,
    file: str,
    where: str,
) -> list[Layer] | None:
    problems = drawings.problems
    with_curves = [layer for layer in drawing.layers.values() if layer.items]
    names = [layer.name for layer in with_curves]
    if layer_name:
        layer = drawing.layers.get(layer_name.casefold())
        if layer is None:
            hint = did_you_mean(layer_name, names, "layers")
            problems.error(
                "D005", f"the drawing has nothing on layer {shown(layer_name)}; {hint}", file, where
            )
            return None
        return [layer]
    if meanings is not None:
        named = [layer for key, layer in drawing.layers.items() if _role(meanings, key) == "outline"]
        if named:
            return named
    left = [layer for layer in with_curves if _role(meanings or {}, layer.name.casefold()) is None]
    if len(left) == 1:
        return left
    problems.error(
        "D019",
        "cannot tell which layer of the drawing is the outline "
        f"({', '.join(names) or 'it has no curves'}); write "
        "FILE.dxf#LAYER, or name the layer in [rack_layers]",
        file,
        where,
    )
    return None


def _role(meanings: dict[str, LayerMeaning], folded: str) -> str | None:
    return meanings[folded].role if folded in meanings else None


def _holes_and_defects(
    shape: Shape,
    outer: Closed,
    drawing: Drawing,
    meanings: dict[str, LayerMeaning],
    drawings: Drawings,
    file: str,
    where: str,
) -> tuple[Shape | None, tuple[Defect, ...]]:
    holes = list(shape.holes)
    defects: list[Defect] = []
    for folded, layer in drawing.layers.items():
        meaning = meanings.get(folded)
        if meaning is None or meaning.role not in ("hole", "defect"):
            continue
        closed = drawings.closed(drawing, layer)
        if closed is None:
            return None, ()
        for region, c in islands(closed):
            if not c.polygon.intersects(outer.polygon):
                continue  # belongs to another piece of the same drawing
            if meaning.role == "defect":
                defects.append(
                    Defect(
                        name=f"{drawing.file} layer {layer.name}, {c.label}",
                        kind=meaning.kind,
                        shape=region,
                        face=meaning.face,
                        depth_mm=meaning.depth_mm,
                    )
                )
                continue
            if not outer.polygon.contains_properly(c.polygon) or _hits(c, holes):
                drawings.problems.error(
                    "D020",
                    "expected a hole inside the piece and clear of other holes; draw an open notch into "
                    "the outline",
                    drawing.file,
                    f"layer {layer.name}, {c.label} {drawing.place(*c.outline.points_mm[0])}",
                )
                return None, ()
            holes.append(region.outer)
    return Shape(outer=shape.outer, holes=tuple(holes)), tuple(defects)


def _hits(c: Closed, holes: list) -> bool:  # type: ignore[type-arg]
    from nestyield.intake.sampling import sampled

    return any(shapely.intersects(sampled(h), c.polygon) for h in holes)
