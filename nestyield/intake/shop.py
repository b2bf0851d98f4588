"""Reads a whole shop folder and tells every problem at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

from nestyield.intake.across import tell_across
from nestyield.intake.asked_for import tell_impossible
from nestyield.intake.beds import read_beds
from nestyield.intake.changes import apply_changes
from nestyield.intake.database import DatabaseError, digest_of, is_database, places_of, read_tables
from nestyield.intake.defects import read_defects
from nestyield.intake.drawings import Drawings
from nestyield.intake.files import ShopFiles, decode
from nestyield.intake.keys import TYPED_SECTIONS, keys_of, sections
from nestyield.intake.misplaced import put_in_place
from nestyield.intake.orders import read_orders
from nestyield.intake.own_woods import read_own_woods
from nestyield.intake.parts import read_parts
from nestyield.intake.piece_drawings import read_rack_layers
from nestyield.intake.problems import Problems, nearest
from nestyield.intake.rack import USUAL, Rack, read_rack, with_defects
from nestyield.intake.remarks import tell_metal_in_notes, tell_money_in_some, tell_unflat_in_notes
from nestyield.intake.run_out import run_out
from nestyield.intake.sizes import tell_odd_sizes
from nestyield.intake.species import canonical_species, tell_species_without_stock
from nestyield.intake.table import Table
from nestyield.intake.toml import parse_toml
from nestyield.intake.toml_slips import mend_toml
from nestyield.intake.values import Values
from nestyield.model import Defect, Finding, ModelError, OwnWood, Settings, Shop, ValueClass

#: Name of the shop file in its folder.
SHOP_FILE = "shop.toml"


def read_shop(folder: Path, changes: Sequence[str] = ()) -> tuple[Shop | None, tuple[Finding, ...]]:
    """Read a shop folder.

    Parameters
    ----------
    folder : Path
        Holds ``shop.toml``.
    changes : sequence of str
        Keys of the shop file with other values, as ``cutter.diameter=6``.

    Returns
    -------
    (Shop or None, tuple of Finding)
        None when any finding is an error. Findings in reading order: shop file, parts and drawings,
        orders, rack, defects.
    """
    problems = Problems()
    files = ShopFiles(folder=folder, problems=problems)
    shop = None
    if not folder.is_dir():
        what = "is a file" if folder.exists() else "does not exist"
        problems.error("S001", f"expected a shop folder with a {SHOP_FILE} in it; {folder.name!r} {what}")
    else:
        values = _read_toml(files, changes)
        if values is not None:
            shop = _read(values, files)
            if _units(values.data).strip().casefold() not in ("mm", "in"):
                problems.drop_doubts_of_size()
    return (None if problems.errors else shop), tuple(problems.findings)


def _read_toml(files: ShopFiles, changes: Sequence[str]) -> Values | None:
    problems = files.problems
    data = files.read(SHOP_FILE, "S001", "", "")
    if data is None:
        return None
    text, why = decode(data)
    if text is None:
        problems.error("S001", f"the shop file {why}", SHOP_FILE)
        return None
    parsed, lines, problem = parse_toml(text)
    if parsed is None:
        mended, slips, numbers = mend_toml(text)
        for slip in slips:
            problems.error("S002", slip.message, SHOP_FILE, f"line {slip.line}")
        parsed, lines, rest = parse_toml(mended)
        lines = {path: numbers[line - 1] for path, line in lines.items()}
        if not slips:
            problems.error("S002", f"not valid TOML: {problem}", SHOP_FILE)
        elif rest:
            problems.error("S002", f"too many slips; mend these first, the next is {rest}", SHOP_FILE)
        if parsed is None or not all(s.mended for s in slips):
            return None  # what is left out would be missed below
    values = Values(data=parsed, path=(), lines=lines, file=SHOP_FILE, units="mm", problems=problems)
    put_in_place(values)
    apply_changes(parsed, lines, changes, problems)
    units = _units(parsed)
    inches = not units and text.count(' in"') > text.count(' mm"')  # left out, which is told below
    if inches or nearest(units, ("mm", "in")) == "in":  # for "inches", too
        values.units = "in"
    return values


def _units(data: dict[str, Any]) -> str:
    """Return the units as written, ``""`` when there are none."""
    general = data.get("shop")
    return str(general.get("units", "")) if isinstance(general, dict) else ""


def _read(shop: Values, files: ShopFiles) -> Shop | None:
    problems = files.problems
    shop.refuse_unknown(sections())
    general = (shop.table("shop") or shop.inner({}, "shop")).read("shop")
    own = read_own_woods(shop)
    settings = _settings(shop, general, own)
    beds = read_beds(shop)
    drawings = Drawings(files=files, chaining_mm=general["chaining"], fallback=general["drawing_units"])
    parts, part_names = read_parts(shop, drawings, own)
    bed_section = shop.data.get("bed")
    bed_names = list(bed_section) if isinstance(bed_section, dict) else []
    orders = read_orders(shop, part_names, bed_names, own)
    _nothing_to_do(shop, part_names, bed_names)
    meanings = read_rack_layers(shop)
    rack = Rack()
    tables = _tables(shop, general, files)
    if "rack" in tables:
        file, data = tables["rack"]
        if data is not None:
            rack = read_rack(
                data,
                file,
                shop.units,
                drawings,
                meanings,
                settings or USUAL,
                comma=general["decimal"] == "comma",
                own=own,
            )
    pieces = rack.pieces
    if "defects" in tables:
        file, data = tables["defects"]
        if data is not None:
            found: dict[str, list[Defect]] = {}
            comma = general["decimal"] == "comma"
            for row in read_defects(data, file, shop.units, rack, problems, comma):
                found.setdefault(row.piece, []).append(row.defect)
            pieces = tuple(with_defects(p, found.get(p.name, [])) for p in pieces)
    if settings is not None:
        tell_impossible(shop, settings, parts)
    species_at = {p.name: shop.inner({}, "part", p.name).where("species") for p in parts}
    if problems.errors or settings is None:
        tell_species_without_stock(parts, (), (), problems, shop.file, own, species_at)
        return None
    tell_species_without_stock(parts, pieces, orders, problems, shop.file, own, species_at)
    tell_odd_sizes(shop, settings, parts)
    file = tables["rack"][0] if "rack" in tables else ""
    tell_metal_in_notes(pieces, shop.units, problems, file)
    tell_unflat_in_notes(pieces, problems, file)
    tell_money_in_some(pieces, settings, problems, file)
    tell_across(pieces, rack.grain_said, parts, orders, settings, shop.words, problems, file)
    return Shop(
        name=general["name"] or "shop",
        units=general["units"],
        settings=settings,
        beds=tuple(beds),
        parts=tuple(run_out(parts, settings.cutter_diameter_mm)),
        pieces=pieces,
        orders=tuple(orders),
        files=dict(sorted(files.hashes.items())),
    )


def _tables(
    shop: Values, general: dict[str, Any], files: ShopFiles
) -> dict[str, tuple[str, bytes | Table | None]]:
    """Read the tables of the rack: by key how each is called and what it holds, None for one unreadable."""
    out: dict[str, tuple[str, bytes | Table | None]] = {}
    names = {key: general[key] for key in ("rack", "defects") if general[key] is not None}
    kept = {key: name for key, name in names.items() if is_database(name)}
    if kept:
        out = dict.fromkeys(kept, ("", None))
        where = _where(shop, next(iter(kept)))
        try:
            places = places_of(kept)
            if not all(
                "://" in place.database or files.path(place.database, shop.file, where)
                for place in places.values()
            ):
                places = {}
            found = read_tables(places.values(), files.folder)
            out |= {key: (place.name, found[place.name]) for key, place in places.items()}
            files.hashes.update({name: digest_of(table) for name, table in found.items()})
        except DatabaseError as error:
            files.problems.error("R014", str(error), shop.file, where)
    for key, code in (("rack", "R001"), ("defects", "F001")):
        if key in names and key not in kept:
            out[key] = names[key], files.read(names[key], code, shop.file, _where(shop, key))
    return out


def _where(shop: Values, key: str) -> str:
    section = shop.table("shop")
    return section.where(key) if section is not None else "shop"


def _nothing_to_do(shop: Values, part_names: list[str], bed_names: list[str]) -> None:
    if not part_names:
        shop.problems.error("S014", "expected at least one part, written [part.NAME]", shop.file)
    if not bed_names:
        shop.problems.error("S014", "expected at least one bed, written [bed.NAME]", shop.file)


def _settings(shop: Values, general: dict[str, Any], own: tuple[OwnWood, ...]) -> Settings | None:
    values: dict[str, Any] = {"chord_error_mm": general["chord_error"], "chaining_mm": general["chaining"]}
    cutter = (shop.table("cutter") or shop.inner({}, "cutter")).read("cutter")
    values["cutter_diameter_mm"] = cutter["diameter"]
    for section, prefix in (("allowance", ""), ("leftover", "leftover_"), ("search", "")):
        read = (shop.table(section) or shop.inner({}, section)).read(section)
        for key in keys_of(section):
            values[prefix + key.stored_as] = read[key.name]
    values["both_directions"] = general["both_directions"]
    values["paper"] = general["paper"] or ("letter" if general["units"] == "in" else "a4")
    values["currency"] = general["currency"].strip()[:8]
    values["own_woods"] = own
    values["value_per_board_foot"] = _values_of_wood(shop, own)
    values["value_classes"] = _value_classes(shop, own)
    for section, kind in TYPED_SECTIONS.items():
        table = shop.table(section) or shop.inner({}, section)
        read = table.read(section)
        try:
            values[section] = kind(**{key.stored_as: read[key.name] for key in keys_of(section)})
        except ModelError as error:
            table.error("S007", str(error))
    if values["cutter_diameter_mm"] is None or len(values) < len(fields(Settings)):
        return None
    return Settings(**values)


def _values_of_wood(shop: Values, own: tuple[OwnWood, ...]) -> dict[str, float]:
    """Read ``[value]``: species -> money a board foot, ``other`` under ``""``."""
    section = shop.table("value")
    out: dict[str, float] = {}
    if section is None:
        return out
    for name, raw in section.data.items():
        if name == "class":
            continue
        number = section.number(raw, name)
        if number is None:
            continue
        if number < 0:
            section.error("S007", f"expected a value >= 0 for {name}, got {number:g}", name)
            continue
        if name.strip().casefold() == "other":
            out[""] = number
            continue
        out[canonical_species(name, shop.problems, "S011", shop.file, section.where(name), own)] = number
    return out


def _value_classes(shop: Values, own: tuple[OwnWood, ...]) -> tuple[ValueClass, ...]:
    """Read ``[[value.class]]``: what stock of some size is worth, in the order in which it is looked up."""
    section = shop.table("value")
    out: list[ValueClass] = []
    for table in section.tables("class") if section is not None else []:
        read = table.read("value.class")
        if (read["times"] is None) == (read["per_board_foot"] is None):
            table.error(
                "S015",
                "expected either times (the value of the species) or per_board_foot (money), "
                f"got {'neither' if read['times'] is None else 'both'}",
            )
            continue
        species = tuple(
            canonical_species(name, shop.problems, "S011", shop.file, table.where("species"), own)
            for name in read["species"]
        )
        out.append(
            ValueClass(
                least_length_mm=read["least_length"],
                least_width_mm=read["least_width"],
                least_thickness_mm=read["least_thickness"],
                species=species,
                times=1.0 if read["times"] is None else read["times"],
                per_board_foot=read["per_board_foot"],
            )
        )
    for k, one in enumerate(out):
        for j, earlier in enumerate(out[:k]):
            if _holds_all_of(earlier, one):
                shop.problems.warning(
                    "S016",
                    f"class {k + 1} never counts: class {j + 1} stands before it and takes all of it",
                    shop.file,
                    _where_class(section, k),
                )
                break
    return tuple(out)


def _holds_all_of(earlier: ValueClass, later: ValueClass) -> bool:
    """Tell whether all stock of one class also belongs to another."""
    limits = ("least_length_mm", "least_width_mm", "least_thickness_mm")
    smaller = all(getattr(earlier, name) <= getattr(later, name) for name in limits)
    return smaller and (
        not earlier.species or (bool(later.species) and set(later.species) <= set(earlier.species))
    )


def _where_class(section: Values | None, index: int) -> str:
    return f"value.class[{index + 1}]" if section is None else section.inner({}, "class", index).where()
