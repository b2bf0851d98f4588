"""One entry a word: keys and sections, columns, woods, roles, kinds of defect, layers, codes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nestyield.audit.codes import CODES as AUDIT_CODES
from nestyield.intake.densities import KG_M3_PER_LB_FT3
from nestyield.intake.keys import KEYS, REQUIRED, Key, keys_of
from nestyield.intake.lengths import parse_length
from nestyield.intake.problems import CODES as INTAKE_CODES
from nestyield.intake.tables import DEFECTS, RACK, Column
from nestyield.intake.tape import MEASURED, example
from nestyield.model import DEFECT_KINDS
from nestyield.model import DEFECTS as KINDS
from nestyield.photo.told import CODES as PHOTO_CODES
from nestyield.reference.meanings import DEFECT_MEANS, LAYERS, ROLE_MEANS, SIGNS, WORDS
from nestyield.wood.density import table_density
from nestyield.wood.species import SEVERAL, SPECIES, Species
from nestyield.words import Words

#: Section of the shop file -> what it is about.
SECTIONS: dict[str, str] = {
    "shop": "the shop and its files",
    "cutter": "the cutter",
    "allowance": "wood that is left between, beside and on top; every key optional",
    "leftover": "what is worth putting back on the rack",
    "value": 'money a board foot, by species: "sugar maple" = 9.5; other = 6 for the rest',
    "value.class": "value by thickness and size; the first class that stock reaches counts",
    "species.*": "a wood that is not in the table, or your own figures in place of the table's",
    "glueup": "blanks that are glued up",
    "wood": "the air in which the instruments live, for movement over the year",
    "machines": "limits of jointer, planer and saw; beyond them a caution; your machine's manual decides",
    "holding": "pins and screws in the blank, and tabs in the cut",
    "prefer": "which of the allowed places is taken; only the ratio of the weights matters",
    "search": "how long and how hard is searched",
    "bed.*": "one table a bed, the preferred first: a later one is used only where no earlier one takes the "
    "blank in one go, sections only where no bed does",
    "bed.*.keep_out": "a place on the bed that something may not enter",
    "part.*": "one table a part",
    "part.*.layers": "layer of the drawing -> its role in short, or a table of role, face, depth, tolerates",
    "part.*.layers.*": "what a layer of a part's drawing holds",
    "rack_layers": "layers of the drawings of rack pieces -> outline, hole, ignore or a defect",
    "rack_layers.*": "what a layer of a rack piece's drawing holds",
    "order": "one [[order]] a wish, with two brackets",
}
_WRITE: dict[str, str] = {
    "length": 'a length: a number in shop units, or with its unit, as "1/4 in" or "6 mm"',
    "force": 'a force: newtons, pounds in an inch shop, or with its unit, as "4.5 kN"',
    "density": 'a density: kg/m3, lb/ft3 in an inch shop, or with its unit, as "35 lb/ft3"',
    "angle": "an angle in degrees",
    "number": "a number",
    "integer": "a whole number",
    "text": "a text in quotes",
    "flag": "true or false",
    "names": "a text in quotes, or a list of them",
    "date": "a date, as 2026-12-12",
    "choices": "a list of: ",
}
#: How keys are written that are read by code of their own.
SPECIAL: dict[tuple[str, str], str] = {
    ("order", "cut_from"): 'names of woods, such as ["sugar maple"], one for each copy cut',
    ("bed.*", "table_x"): "[-20, 620]",
    ("bed.*", "table_y"): "[-20, 420]",
    ("bed.*", "keep_out"): "tables [[bed.NAME.keep_out]]",
    ("bed.*.keep_out", "rectangle"): "[0, 380, 60, 400]",
    ("bed.*.keep_out", "polygon"): "[[0, 0], [60, 0], [0, 60]]",
    ("part.*", "grain"): 'degrees, or "none"',
    ("part.*", "weight"): '"lightest", "1.2 to 1.6 kg", "at most 3 lb" or "at least 800 g"',
    ("part.*", "tolerates"): '{ stain = "allowed", knot = "filled" }',
    ("part.*", "layers"): 'a table [part.NAME.layers]: BODY = "outline"',
    ("part.*.layers.*", "tolerates"): '{ knot = "allowed" }',
    ("rack_layers.*", "kind"): "a kind of defect, in quotes",
}
_MARKS = {"S": "read there", "M": "from memory", "D": "derived", "P": "common practice, no source"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What is to be said about one word.

    Parameters
    ----------
    word : str
        As it is written.
    kind : str
        ``key``, ``section``, ``column``, ``wood``, ``role``, ``defect``, ``word``, ``sign``, ``layer`` or
        ``code``.
    title : str
        The word where it stands, as ``[allowance] planing``.
    lines : tuple of str
        What it means and how it is written.
    also : tuple of str
        Other words under which it is found.
    """

    word: str
    kind: str
    title: str
    lines: tuple[str, ...]
    also: tuple[str, ...] = ()


def bracketed(section: str) -> str:
    """Return the heading of a section as the shop file has it, ``[bed.NAME]`` or ``[[order]]``."""
    name = (
        section.replace(".layers.*", ".layers")
        .replace("*", "NAME")
        .replace("rack_layers.NAME", "rack_layers")
    )
    several = section in ("order", "value.class", "bed.*.keep_out")
    return f"[[{name}]]" if several else f"[{name}]"


def default_text(key: Key) -> str:
    """Return the default of a key for people, ``""`` when there is none: lengths in mm and inches."""
    value = key.default
    if value is None or value is REQUIRED or value == () or value == "":
        return ""
    if key.kind == "length":
        return both(value)
    if key.kind == "force":
        return f"{value:g} N, {Words('in').force(value)}"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, (int, float)) else str(value)


def both(length_mm: float) -> str:
    """Return a length in mm and in inches."""
    inches = Words("in").length(length_mm, style="fine")
    exact = abs(parse_length(inches, "in") - length_mm) < 1e-6
    return f"{length_mm:g} mm ({'' if exact else 'about '}{inches})"


def _range(key: Key) -> str:
    def shown(value: float) -> str:
        return both(value) if key.kind == "length" and value else f"{value:g}"

    out = []
    if key.above is not None:
        out.append(f"more than {shown(key.above)}")
    if key.low is not None:
        out.append(f"at least {shown(key.low)}")
    if key.high is not None:
        out.append(f"at most {shown(key.high)}")
    return ", ".join(out)


def how_written(key: Key) -> str:
    """Return how the value of a key is written."""
    if key.kind == "special":
        return SPECIAL[key.section, key.name]
    if key.kind == "choice":
        return "one of " + ", ".join(f'"{c}"' for c in key.choices)
    if key.kind == "choices":
        return _WRITE["choices"] + ", ".join(f'"{c}"' for c in key.choices)
    return _WRITE[key.kind]


def _key(key: Key) -> Meaning:
    lines = [key.doc, f"write: {how_written(key)}"]
    if limits := _range(key):
        lines.append(f"range: {limits}")
    if key.default is REQUIRED:
        lines.append("required")
    elif default := default_text(key):
        lines.append(f"default: {default}")
    title = f"{bracketed(key.section)} {key.name}"
    plain = key.section.replace(".*", "")
    return Meaning(word=key.name, kind="key", title=title, lines=tuple(lines), also=(f"{plain}.{key.name}",))


def _section(name: str) -> Meaning:
    lines = [SECTIONS[name]]
    if names := [k.name for k in keys_of(name)]:
        lines.append(f"keys: {', '.join(names)}")
    plain = name.replace(".*", "")
    return Meaning(
        word=plain,
        kind="section",
        title=f"section {bracketed(name)}",
        lines=tuple(lines),
        also=(f"{plain}s",),
    )


def _column(column: Column, table: str) -> Meaning:
    lines = [column.doc]
    if column.length:
        name = column.name
        lines.append(
            f"in shop units; {name}_mm, {name}_in (cm, m, ft) in those; a cell may have its own, as 1 3/4 in"
        )
    if column.name == "kind":
        lines.append(f"one of {', '.join(DEFECT_KINDS)}")
    if column.name == "outline" and table == "rack":
        lines.append(f"by tape: {'; '.join(example(word, 'in') for word in MEASURED)}")
    return Meaning(
        word=column.name,
        kind="column",
        title=f"column {column.name} of the {table} table",
        lines=tuple(lines),
    )


def _wood(species: Species) -> Meaning:
    lines = []
    if species.aliases:
        lines.append(f"also written {', '.join(species.aliases)}")
    if species.c_tangential is not None and species.radial_pct is not None:
        lines.append(
            f"shrinks {species.radial_pct:g} % radially, {species.tangential_pct:g} % tangentially, green to "
            f"ovendry (Wood Handbook, FPL-GTR-190; {_MARKS[species.shrinkage_mark]})"
        )
        lines.append(
            f"moves {species.c_radial:g} radially, {species.c_tangential:g} tangentially of its width a "
            f"point of moisture ({_MARKS[species.coefficient_mark]})"
        )
    if (density := table_density(species.name)) is not None:
        lines.append(
            f"{density[0]:.0f} kg/m3 ({density[0] / KG_M3_PER_LB_FT3:.0f} lb/ft3)"
            + ("" if species.sheet else " at 12 % moisture")
            + f" ({_MARKS[density[1]]})"
        )
    lines.append("sheet material" if species.sheet else f"{species.density}, for clamping pressure (P)")
    if species.note:
        lines.append(species.note)
    return Meaning(
        word=species.name, kind="wood", title=species.name, lines=tuple(lines), also=species.aliases
    )


def _several(name: str, woods: tuple[str, ...]) -> Meaning:
    return Meaning(
        word=name, kind="wood", title=name, lines=(f"may be several woods; write which: {', '.join(woods)}",)
    )


def _defect(kind: str, means: str) -> Meaning:
    letters = KINDS[kind].letters
    return Meaning(
        word=kind,
        kind="defect",
        title=f"kind of defect: {kind}",
        lines=(means, f"marked {letters} in drawings"),
        also=(f"{kind}s", letters),
    )


def entries() -> Iterator[Meaning]:
    """Give every entry: sections, keys, columns, roles, defects, woods, layers, codes."""
    for name in SECTIONS:
        yield _section(name)
    for key in KEYS:
        yield _key(key)
    for table, columns in (("rack", RACK), ("defect", DEFECTS)):
        for column in columns:
            yield _column(column, table)
    for role, means in ROLE_MEANS.items():
        yield Meaning(word=role, kind="role", title=f"role {role} of a layer", lines=(means,))
    for kind, means in DEFECT_MEANS.items():
        yield _defect(kind, means)
    for word, means in WORDS.items():
        yield Meaning(word=word, kind="word", title=word, lines=(means,))
    for sign, means in SIGNS.items():
        yield Meaning(word=sign, kind="sign", title=f"{sign} and a number, on sheets", lines=(means,))
    for species in SPECIES:
        yield _wood(species)
    for name, woods in SEVERAL.items():
        yield _several(name, woods)
    for names, means in LAYERS:
        first = tuple(dict.fromkeys(n.split(" ")[0] for n in names))
        yield Meaning(
            word=names[0], kind="layer", title=f"layer {', '.join(names)} of the drawings", lines=(means,),
            also=(*names[1:], *first),
        )  # fmt: skip
    rooms = (
        (INTAKE_CODES, "reading the shop folder"),
        (PHOTO_CODES, "reading pictures"),
        (AUDIT_CODES, "the check of a plan"),
    )
    for codes, what in rooms:
        for code, rule in codes.items():
            lines = (f"rule: {rule}", "its message names the place and what to do")
            yield Meaning(word=code, kind="code", title=f"finding {code}, of {what}", lines=lines)
