"""Reads a drawing: every curve of its model space by layer, blocks resolved."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from ezdxf.document import Drawing as DxfDocument
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert

from nestyield.intake.affine import Affine
from nestyield.intake.curve import EntityError
from nestyield.intake.dxf_curves import placed, read_curve, readable
from nestyield.intake.dxf_file import collected_log, open_dxf, unit_code
from nestyield.intake.dxf_units import UnitRule, unit_of_drawing
from nestyield.intake.layers import Drawing, Layer, LayerItem, Remark
from nestyield.intake.problems import Problems, shown
from nestyield.model import Severity

#: More entities than this, blocks resolved, are refused.
MOST_ENTITIES = 300_000
#: Blocks within blocks deeper than this are refused.
DEEPEST_BLOCK = 32
#: Entities that are texts, marks or fills: no outline, left out with a note.
MARKS = frozenset(
    [
        "POINT",
        "TEXT",
        "MTEXT",
        "ATTRIB",
        "ATTDEF",
        "DIMENSION",
        "ARC_DIMENSION",
        "LARGE_RADIAL_DIMENSION",
        "HATCH",
        "MPOLYGON",
        "LEADER",
        "MULTILEADER",
        "MLEADER",
        "TOLERANCE",
        "VIEWPORT",
        "IMAGE",
        "WIPEOUT",
        "PDFUNDERLAY",
        "DWFUNDERLAY",
        "DGNUNDERLAY",
        "OLE2FRAME",
        "OLEFRAME",
        "ACAD_TABLE",
        "LIGHT",
        "SUN",
        "CAMERA",
        "SEQEND",
    ]
)


def read_drawing(
    path: Path, data: bytes, file: str, rule: UnitRule, key: str, problems: Problems
) -> Drawing | None:
    """Read a DXF drawing.

    Parameters
    ----------
    path : Path
    data : bytes
        Contents of the file.
    file : str
        Its name for findings.
    rule : UnitRule
        What the shop file says about its unit.
    key : str
        Where the shop file says it, for messages.
    problems : Problems
        Takes errors about the file as a whole.

    Returns
    -------
    Drawing or None
        None when there was an error. Remarks about entities wait in the layers until these are used.
    """
    doc = open_dxf(path, data, file, problems)
    if doc is None:
        return None
    unit = unit_of_drawing(unit_code(doc, data), rule, problems, file, key)
    if unit is None:
        return None
    reader = _Reader(doc=doc, unit_mm=unit[1])
    try:
        with collected_log():
            reader.run()
    except EntityError as error:
        problems.error(error.code, str(error), file)
        return None
    except Exception as error:  # damage inside blocks or tables that the library meets only here
        why = " ".join(str(error).replace(str(path), path.name).split())[:120] or type(error).__name__
        problems.error("D001", f"the drawing is damaged ({why}); write it again", file)
        return None
    layers = {name: reader.layers[name] for name in sorted(reader.layers)}
    return Drawing(file=file, unit=unit[0], unit_mm=unit[1], layers=layers)


@dataclass(slots=True)
class _Reader:
    doc: DxfDocument
    unit_mm: float
    layers: dict[str, Layer] = field(default_factory=dict)
    count: int = 0

    def run(self) -> None:
        unit = Affine.scale(self.unit_mm)
        for entity in self.doc.modelspace():
            self._entity(entity, str(entity.dxf.get("layer", "0")), unit, (), "")
        for definition in self.doc.layers:
            layer = self.layers.get(str(definition.dxf.name).casefold())
            if layer is not None and (definition.is_frozen() or definition.is_off()):
                layer.hidden = "frozen" if definition.is_frozen() else "off"

    def _layer(self, name: str) -> Layer:
        return self.layers.setdefault(name.casefold(), Layer(name=name))

    def _entity(
        self, entity: DXFEntity, layer_name: str, affine: Affine, blocks: tuple[str, ...], inserted: str
    ) -> None:
        self.count += 1
        if self.count > MOST_ENTITIES:
            raise EntityError(
                "D024", f"the drawing has more than {MOST_ENTITIES} entities; keep outlines and zones only"
            )
        kind = entity.dxftype()
        layer = self._layer(layer_name)
        label = _label(entity, blocks, inserted)
        if entity.dxf.get("invisible", 0):
            self._remark(layer, "note", "D017", f"{kind} is invisible and left out", label)
        elif isinstance(entity, Insert):
            self._insert(entity, layer, affine, blocks, inserted or label)
        elif readable(kind):
            self._curve(entity, layer, affine, label)
        elif kind in MARKS:
            self._remark(layer, "note", "D017", f"{kind} is no line or curve and is left out", label)
        else:
            self._remark(
                layer,
                "error",
                "D017",
                f"{kind} cannot be read as an outline; draw it as lines, arcs, polylines, ellipses or "
                "splines, "
                "or move it to a layer of its own",
                label,
            )

    def _curve(self, entity: DXFEntity, layer: Layer, affine: Affine, label: str) -> None:
        try:
            curve = read_curve(entity, affine)
        except EntityError as error:
            self._remark(layer, "error", error.code, str(error), label)
            return
        if curve is None:
            self._remark(layer, "note", "D013", "the entity has no length and is left out", label)
            return
        if abs(curve.z_mm) > 1e-6:
            self._remark(
                layer,
                "note",
                "D016",
                f"drawn at height z {curve.z_mm / self.unit_mm:.6g}, read as flat",
                label,
            )
        if curve.note:
            self._remark(layer, "warning", curve.note[:4], curve.note[5:], label)
        layer.items.append(LayerItem(curve=curve, label=label))

    def _insert(
        self, insert: Insert, layer: Layer, affine: Affine, blocks: tuple[str, ...], inserted: str
    ) -> None:
        name = str(insert.dxf.get("name", ""))
        block = self.doc.blocks.get(name) if name else None
        if block is None or (
            block.block is not None and (block.block.is_xref or block.block.is_xref_overlay)
        ):
            why = "is kept in another drawing" if block is not None else "is missing"
            message = f"block {shown(name)} {why}; bind it or draw its content here"
            self._remark(layer, "error", "D018", message, inserted)
            return
        if name.casefold() in blocks or len(blocks) >= DEEPEST_BLOCK:
            message = (
                f"block {shown(name)} contains itself"
                if name.casefold() in blocks
                else "blocks nest too deep"
            )
            self._remark(layer, "error", "D018", f"{message}; draw its content here", inserted)
            return
        rows, columns = (max(1, int(insert.dxf.get(k, 1) or 1)) for k in ("row_count", "column_count"))
        if rows * columns * max(1, len(block)) > MOST_ENTITIES:
            raise EntityError(
                "D024", f"{inserted} makes more than {MOST_ENTITIES} entities; keep outlines and zones only"
            )
        frozen = self._hidden(layer.name)
        if frozen:
            self._remark(layer, "note", "D021", f"inserted on a layer that is {frozen}", inserted)
        for row in range(rows):
            for column in range(columns):
                try:
                    inner = affine @ placed(insert, block.base_point, row, column)
                except EntityError as error:
                    self._remark(layer, "error", error.code, str(error), inserted)
                    return
                for child in block:
                    child_layer = str(child.dxf.get("layer", "0"))
                    if child_layer == "0":  # content of layer 0 takes the layer of its insert
                        child_layer = layer.name
                    self._entity(child, child_layer, inner, (*blocks, name.casefold()), inserted)

    def _hidden(self, name: str) -> str:
        if not self.doc.layers.has_entry(name):
            return ""
        definition = self.doc.layers.get(name)
        return "frozen" if definition.is_frozen() else "off" if definition.is_off() else ""

    def _remark(self, layer: Layer, severity: Severity, code: str, message: str, label: str) -> None:
        where = f"layer {layer.name}, {label}"
        layer.remarks.append(Remark(severity=severity, code=code, message=message, where=where))


def _label(entity: DXFEntity, blocks: tuple[str, ...], inserted: str) -> str:
    handle = entity.dxf.get("handle", None)
    label = f"{entity.dxftype()} {handle}" if handle else entity.dxftype()
    if blocks:
        label += f" in block {blocks[-1].upper()} ({inserted})"
    return label
