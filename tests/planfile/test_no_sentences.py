"""The plan file has no place for a sentence: what is free text in its schema is a name or the maker's own."""

import json
from importlib.resources import files

#: Text that is a name: of a piece, part, order, bed, blank, zone, defect, hole, edge, file, or of the shop.
NAMES = {
    "bed", "blank", "blanks", "blocked", "board", "boards", "by", "cut_from", "defect", "defects", "drawing", "file", "files",
    "holes", "kind", "label", "labels", "leaves", "leftover", "letter", "letters", "name", "names", "order",
    "orders", "own", "parent", "part", "parts", "piece", "pieces", "pin", "pins", "position", "positions", "quarantine", "seam", "seams", "set",
    "after", "before", "beds", "cap", "face", "hole", "layer", "instead_of", "holds", "kinds", "knots", "leftovers", "lower", "setup", "upper", "what",
    "shelf", "species", "stopped", "synonyms", "tabs", "units", "value_classes", "visible", "zone", "zones",
}  # fmt: skip
#: Text of the maker, kept word by word, and what intake found, which comes with its text.
MAKERS = {"Piece.note", "Finding.message", "Finding.where", "Finding.code", "Order.due", "Settings.currency"}
#: Pairs of a name and a number, and hashes by file.
PAIRS = {"SeamUnderPart.wood_left_mm", "Plan.inputs_sha256"}


def free_text(schema: dict) -> set[str]:
    """Return Type.property for each property whose value may be any string."""
    found = set()

    def strings(node: object) -> bool:
        if not isinstance(node, dict):
            return False
        if node.get("type") == "string":
            return "const" not in node and "enum" not in node
        inner = [node.get("items"), node.get("additionalProperties"), *node.get("prefixItems", [])]
        return any(strings(n) for n in [*inner, *node.get("anyOf", [])])

    for kind, body in {**schema.get("$defs", {}), "Plan": schema}.items():
        for prop, node in body.get("properties", {}).items():
            if strings(node):
                found.add(f"{kind}.{prop}")
    return found


def test_free_text_is_a_name() -> None:
    """No property of the published schema may hold prose, but for the maker's notes and findings of intake."""
    schema = json.loads(files("nestyield.planfile").joinpath("plan.schema.json").read_text())
    found = free_text(schema)
    assert len(found) > 40
    assert {"Piece.note", "Order.name"} <= found
    assert sorted(t for t in found - MAKERS - PAIRS if t.partition(".")[2] not in NAMES) == []
