"""Sizes that are possible and yet look like a wrong unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial

import shapely

from nestyield.intake import remedies
from nestyield.intake.drawing_size import tell_scale
from nestyield.intake.rack import region_of
from nestyield.intake.values import Values
from nestyield.model import Part, Settings, Zone

#: (section, key, field of the settings, least, most), mm: what lies outside is told. 0 is always fine.
PLAUSIBLE_MM: tuple[tuple[str, str, str, float, float], ...] = (
    ("cutter", "diameter", "cutter_diameter_mm", 0.4, 40.0),
    ("allowance", "between_parts", "between_parts_mm", 0.0, 100.0),
    ("allowance", "blank_margin", "blank_margin_mm", 0.0, 100.0),
    ("allowance", "jointing", "jointing_mm", 0.0, 20.0),
    ("allowance", "planing", "planing_mm", 0.0, 20.0),
    ("leftover", "shortest", "leftover_shortest_mm", 10.0, 3000.0),
    ("leftover", "narrowest", "leftover_narrowest_mm", 5.0, 1000.0),
)
#: A pocket is cut when the cutter misses by no more than this: drawings are not exact, mm.
SLACK_MM = 0.05
#: A corner that the cutter leaves fuller by less is not told, mm.
CORNER_MM = 0.4


def tell_odd_sizes(shop: Values, settings: Settings, parts: Iterable[Part]) -> None:
    """Warn of settings out of all proportion, and of pockets and cutouts that the cutter does not go into.

    Parameters
    ----------
    shop : Values
        The whole shop file.
    settings : Settings
    parts : iterable of Part
    """
    told = False
    for section, key, field, least, most in PLAUSIBLE_MM:
        value = getattr(settings, field)
        values = shop.table(section)
        if value is None or value == 0 or least <= value <= most or values is None or key not in values.data:
            continue
        told = told or key == "diameter"
        if values.problems.told(values.file, values.where(key)):
            continue
        size = values.words.length(value, style="setting")
        other = remedies.in_other_unit(values.data[key], key, values.units)
        values.warning("S012", f"{key} is {size}; {other}", key)
    if told:
        return
    radius = settings.cutter_diameter_mm / 2.0
    narrow: dict[str, list[Zone]] = {}
    for part in parts:
        for zone in part.zones:
            if zone.shape is None or zone.role not in ("pocket", "cutout"):
                continue
            if region_of(zone.shape).buffer(SLACK_MM - radius, quad_segs=16).is_empty:
                narrow.setdefault(part.name, []).append(zone)
    _tell_corners(shop, radius, parts, narrow)
    for part in parts:
        if part.name in narrow and tell_scale(
            part, narrow[part.name][0].name, settings.cutter_diameter_mm, shop.words, shop.problems
        ):
            del narrow[part.name]
    if narrow:
        _tell_narrow(shop, settings.cutter_diameter_mm, narrow)


def _tell_narrow(shop: Values, cutter_mm: float, narrow: Mapping[str, list[Zone]]) -> None:
    """Warn of pockets and cutouts that the cutter does not go into: the narrowest, then the others."""
    width = {
        (part, zone.name): 2.0 * shapely.maximum_inscribed_circle(region_of(zone.shape)).length
        for part, zones in narrow.items()
        for zone in zones
        if zone.shape is not None
    }
    (part, name), least = min(width.items(), key=lambda item: item[1])
    roles = {(p, z.name): z.role for p, zones in narrow.items() for z in zones}
    say = partial(shop.words.length, style="setting")
    others = [f"{z} of {p}" for p, z in width if (p, z) != (part, name)]
    nor = f", nor {', '.join(others[:4])}{' ...' if len(others) > 4 else ''}" if others else ""
    section = shop.table("cutter")
    shop.problems.warning(
        "S012",
        f"the {say(cutter_mm)} cutter does not fit {roles[part, name]} {name} of {part}, {say(least)} wide"
        f"{nor}; choose a smaller cutter or correct diameter",
        shop.file,
        "cutter.diameter" if section is None else section.where("diameter"),
    )


def _tell_corners(
    shop: Values, radius: float, parts: Iterable[Part], narrow: Mapping[str, list[Zone]]
) -> None:
    """Note pockets and cutouts with corners sharper than the cutter leaves them."""
    sharp: dict[str, list[str]] = {}
    for part in parts:
        for zone in part.zones:
            if (
                zone.shape is None
                or zone.role not in ("pocket", "cutout")
                or zone in narrow.get(part.name, ())
            ):
                continue
            ground = region_of(zone.shape)
            cut = ground.buffer(-radius, quad_segs=32).buffer(radius, quad_segs=32)
            if not ground.difference(cut.buffer(CORNER_MM)).is_empty:
                sharp.setdefault(part.name, []).append(zone.name)
    if sharp:
        where = "; ".join(f"{', '.join(zones)} of {part}" for part, zones in sharp.items())
        round_ = shop.words.length(radius, style="setting")
        shop.problems.note(
            "S012",
            f"corners of {where} are sharper than the cutter: it leaves them round by {round_}; "
            "square them by hand where something must fit",
            shop.file,
            "cutter.diameter",
        )
