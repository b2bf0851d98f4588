"""Woods with the maker's own figures: ``[species.NAME]`` of the shop file."""

from __future__ import annotations

from nestyield.intake.values import Values
from nestyield.model import ModelError, OwnWood
from nestyield.wood.own import as_species
from nestyield.wood.species import find, key_of


def read_own_woods(shop: Values) -> tuple[OwnWood, ...]:
    """Read every ``[species.NAME]``.

    Parameters
    ----------
    shop : Values
        The whole shop file.

    Returns
    -------
    tuple of OwnWood
        Those that could be read; problems went to ``shop.problems``.
    """
    section = shop.table("species")
    if section is None or section.refuse_without_name("species"):
        return ()
    section.refuse_alike()
    woods: list[OwnWood] = []
    for name in section.data:
        values = section.table(name)
        wood = None if values is None else _wood(" ".join(name.split()), values)
        if values is not None and wood is not None:
            _tell(wood, values)
            woods.append(wood)
    _refuse_shared_names(section, woods)
    return tuple(woods)


def _wood(name: str, values: Values) -> OwnWood | None:
    before = values.problems.errors
    v = values.read("species.*")
    if values.problems.errors != before:
        return None
    if all(v[key] is None for key in ("radial", "tangential", "density")):
        values.error("S005", "expected radial and tangential shrinkage, a density, or both; none is given")
        return None
    try:
        return OwnWood(
            name=name,
            synonyms=tuple(" ".join(text.split()) for text in v["synonyms"]),
            radial_pct=v["radial"],
            tangential_pct=v["tangential"],
            density_kg_m3=v["density"],
        )
    except ModelError as error:
        values.error("S007", str(error))
        return None


def _tell(wood: OwnWood, values: Values) -> None:
    """Tell what is made of the figures, whose names they take over, and what looks exchanged."""
    if (wood.radial_pct or 0.0) > (wood.tangential_pct or 0.0):
        values.warning(
            "S012",
            f"{wood.name} is said to shrink more along the rays than along the rings "
            f"({wood.radial_pct:g} and {wood.tangential_pct:g} %); are radial and tangential exchanged?",
        )
    table = find(wood.name)
    if table is not None:
        instead = "the table's" if key_of(table.name) == key_of(wood.name) else f"those of {table.name}"
        values.note("S011", f"your own figures of {wood.name} count, not {instead}")
    figures = as_species(wood)
    moves = "no movement is known"
    if figures.c_radial is not None and figures.c_tangential is not None:
        least, most = 100 * figures.c_radial, 100 * figures.c_tangential
        moves = f"it moves {least:.3f} to {most:.3f} % a point of moisture"
    values.note("S011", f"{wood.name}: {moves}; for clamps it counts as a {figures.density} wood")
    for text in wood.synonyms:
        other = find(text)
        if other is None or key_of(other.name) == key_of(wood.name):
            continue
        if key_of(other.name) == key_of(text):
            values.error(
                "S009",
                f"expected synonyms that are no other wood, {text!r} is one of the species table; "
                f"leave it out, or write [species.{text!r}] with its own figures",
                "synonyms",
            )
        else:
            values.note("S011", f"{text!r} is read as your {wood.name}, not as {other.name}", "synonyms")


def _refuse_shared_names(section: Values, woods: list[OwnWood]) -> None:
    first: dict[str, str] = {}
    for wood in woods:
        for text in dict.fromkeys(key_of(t) for t in (wood.name, *wood.synonyms)):
            owner = first.setdefault(text, wood.name)
            if owner != wood.name:
                section.error(
                    "S009", f"expected one wood for each name, {text!r} is {owner} and {wood.name}", wood.name
                )
