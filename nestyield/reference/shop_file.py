"""A shop file with every key, its default and what it means, as README shows it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nestyield.intake.keys import REQUIRED, Key, keys_of
from nestyield.reference.entries import SECTIONS

#: Column in which comments begin, and widest line.
COMMENT, WIDEST = 31, 120
#: Names that sections get, in the order of the file.
HEADINGS: dict[str, str] = {
    "shop": "[shop]",
    "cutter": "[cutter]",
    "allowance": "[allowance]",
    "leftover": "[leftover]",
    "value": "[value]",
    "value.class": "[[value.class]]",
    "species.*": '[species."black limba"]',
    "glueup": "[glueup]",
    "wood": "[wood]",
    "prefer": "[prefer]",
    "machines": "[machines]",
    "holding": "[holding]",
    "bed.*": "[bed.bench]",
    "bed.*.keep_out": "[[bed.bench.keep_out]]",
    "part.*": "[part.mandolin]",
    "part.*.layers": "[part.mandolin.layers]",
    "rack_layers": "[rack_layers]",
    "order": "[[order]]",
    "search": "[search]",
}
#: What stands in the example where the default does not.
VALUES: dict[tuple[str, str], str] = {
    ("shop", "name"): '"Millrace Shared Workshop"',
    ("shop", "units"): '"mm"',
    ("shop", "rack"): '"rack.csv"',
    ("shop", "defects"): '"defects.csv"',
    ("shop", "drawing_units"): '"mm"',
    ("shop", "currency"): '"EUR"',
    ("shop", "paper"): '"a4"',
    ("cutter", "diameter"): "6.35",
    ("allowance", "between_parts"): "9.35",
    ("value.class", "least_length"): "1500",
    ("value.class", "least_width"): "180",
    ("value.class", "least_thickness"): "44",
    ("value.class", "species"): '["sugar maple"]',
    ("value.class", "times"): "",
    ("value.class", "per_board_foot"): "14",
    ("species.*", "radial"): "4.5",
    ("species.*", "tangential"): "6.2",
    ("species.*", "density"): "560",
    ("species.*", "synonyms"): '["korina"]',
    ("glueup", "clamps"): "12",
    ("machines", "planer_shortest"): "330",
    ("machines", "planer_rollers"): "280",
    ("machines", "planer_widest"): "317.5",
    ("machines", "resaw_height"): "150",
    ("bed.*", "travel_x"): "600",
    ("bed.*", "travel_y"): "400",
    ("bed.*", "travel_z"): "90",
    ("bed.*", "table_x"): "[-20, 620]",
    ("bed.*", "table_y"): "[-20, 420]",
    ("bed.*", "open_ends"): '["x-", "x+"]',
    ("bed.*", "pin_diameter"): "6",
    ("bed.*", "keep_out"): "",
    ("bed.*.keep_out", "name"): '"clamp block"',
    ("bed.*.keep_out", "rectangle"): "[0, 380, 60, 400]",
    ("bed.*.keep_out", "polygon"): "",
    ("part.*", "drawing"): '"mandolin.dxf"',
    ("part.*", "drawing_units"): '"mm"',
    ("part.*", "thickness"): "44.5",
    ("part.*", "species"): '["sugar maple", "black cherry"]',
    ("part.*", "fill_limit"): "20",
    ("part.*", "cap"): '"sugar maple"',
    ("part.*", "cap_thickness"): "8",
    ("part.*", "each"): "450",
    ("part.*", "weight"): '"1.2 to 1.6 kg"',
    ("part.*", "tolerates"): '{ stain = "allowed", "nail hole" = "filled" }',
    ("part.*", "layers"): "",
    ("order", "part"): '"mandolin"',
    ("order", "due"): "2026-12-12",
    ("order", "bed"): '"bench"',
    ("order", "name"): '"spring batch"',
    ("order", "set"): '"mandolins"',
    ("order", "match"): '"species"',
    ("order", "cut_from"): '["sugar maple"]',
}
#: What stands under a heading besides its keys, or in their place.
BODIES: dict[str, str] = {
    "value": """\
"sugar maple" = 9.5
other = 6
""",
    "value.class": """\

[[value.class]]
least_length = 600
least_width = 100
times = 1                      # in place of per_board_foot: so many times the value of the species

[[value.class]]                # all that is smaller: offcuts
times = 0.6
""",
    "bed.*.keep_out": """\
# polygon = [[0, 0], [60, 0], [0, 60]]   in place of rectangle: its corners
""",
    "part.*.layers": """\
BODY = "outline"
PICKUPS = { role = "pocket", face = "front", depth = 19, tolerates = { knot = "allowed" } }
BEVEL = { role = "contour", face = "back", depth = 12 }
# NECK = { role = "cutout", over_edge = true }   it runs out over the outline on purpose: no warning D020
DIMENSIONS = "ignore"          # a layer not named here is ignored, with a note
""",
    "order": """\

[[order]]                      # the other order of the set: filled with the first, or not at all
part = "mandolin"
name = "summer batch"
set = "mandolins"
priority = 5
due = 2026-12-12
match = "species"
""",
    "rack_layers": """\
EDGE = "outline"
KNOTS = { role = "defect", kind = "knot", face = "through" }
""",
}


def shop_file() -> str:
    """Return the text of a shop file with every key."""
    blocks = []
    for section, heading in HEADINGS.items():
        lines = [*_commented(heading, SECTIONS[section])]
        for key in keys_of(section):
            literal = VALUES[section, key.name] if (section, key.name) in VALUES else _literal(key)
            if literal:
                lines += _commented(f"{key.name} = {literal}", _comment(key))
        blocks.append("\n".join(lines) + "\n" + BODIES.get(section, ""))
    return "\n".join(blocks)


def _literal(key: Key) -> str:
    """Return the default as the shop file writes it."""
    value = key.default
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if value is None or isinstance(value, tuple) or value is REQUIRED:
        raise RuntimeError(f"[{key.section}] {key.name} needs a value in the example")
    return f"{value:g}"


def _comment(key: Key) -> str:
    """Return what a key means behind its default: ``[0.8 mm] off each jointed edge``."""
    if key.default is REQUIRED:
        return key.doc + _choices(key)
    if key.default in (None, (), ""):
        return f"optional: {key.doc}{_choices(key)}"
    shown = _literal(key).strip('"')
    unit = {"length": " mm", "force": " N", "angle": " degrees"}.get(key.kind, "")
    return f"[{shown}{unit}] {key.doc}{_choices(key)}"


def _choices(key: Key) -> str:
    return f" ({', '.join(key.choices)})" if key.choices else ""


def _commented(text: str, comment: str) -> Iterator[str]:
    """Give a line with a comment behind it, which goes on below where it is long."""
    begin = max(COMMENT, len(text) + 2)
    parts = textwrap.wrap(comment, WIDEST - begin - 2, break_on_hyphens=False)
    yield f"{text.ljust(begin)}# {parts[0]}"
    for part in parts[1:]:
        yield f"{' ' * begin}# {part}"
