"""Names of species as makers write them, brought to the names of the species table."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from nestyield.intake.problems import Problems, nearest, slips_between
from nestyield.model import Order, OwnWood, Part, Piece
from nestyield.wood.own import own_wood, species_of
from nestyield.wood.species import SEVERAL, SPECIES, find, is_another_name

#: Likeness from which a name that is not in the table looks like a slip of the pen.
LIKE_A_SLIP = 0.8


def canonical_species(
    name: str,
    problems: Problems,
    code: str,
    file: str,
    where: str,
    own: Sequence[OwnWood] = (),
    key: str = "",
) -> str:
    """Bring a name to the spelling of the shop's own woods or of the species table.

    Parameters
    ----------
    name : str
    problems : Problems
        Takes a note when the name is read as another one or is a wood that the table does not have, a
        warning when it may be several woods, an error when it looks like a misspelt one of the table.
    code, file, where : str
        Of the finding.
    own : sequence of OwnWood
        The maker's own, which count before the table.
    key : str
        Of a part, which may have several: a name that may be several woods is told with what the rack has,
        by `tell_species_without_stock`.

    Returns
    -------
    str
        The maker's or the table's name; or the name as written, spaces tidied.
    """
    tidy = " ".join(name.split())
    mine = own_wood(tidy, own)
    if mine is not None:
        if mine.name.casefold() != tidy.casefold():
            problems.note(code, f"{tidy!r} is read as your own {mine.name}", file)
        return mine.name
    found = find(tidy)
    if found is not None:
        if is_another_name(tidy, found):
            message = f"{tidy!r} is read as {found.name}"
            if not any(f.message == message for f in problems.findings):  # shop file and rack: once is enough
                problems.note(code, message, file)
        return found.name
    if tidy.casefold() in SEVERAL:
        if not key:
            woods = ", ".join(SEVERAL[tidy.casefold()])
            problems.warning(code, f"{tidy!r} may be several woods; write which: {woods}", file)
        return tidy
    some = [s.strip() for s in re.split(r",|/|;|\bor\b|\band\b", tidy) if s.strip()]
    if len(some) > 1 and all(find(s) or s.casefold() in SEVERAL or own_wood(s, own) for s in some):
        quoted = ", ".join(f'"{s}"' for s in some)
        if code == "S011":
            message = f"one text names {len(some)} woods; write {key and f'{key} = '}[{quoted}]"
        else:
            message = f"the cell names {len(some)} woods: {tidy}; write the one that this piece is of"
        problems.error(code, message, file, where)
        return tidy
    bare = re.sub(r"\s*\([^()]*\)\s*$", "", tidy)
    if bare != tidy and (find(bare) or own_wood(bare, own) or bare.casefold() in SEVERAL):
        rest = tidy[len(bare) :].strip(" ()")
        todo = f"write {rest} {bare}" if find(f"{rest} {bare}") else f"write {bare}, and {rest!r} under note"
        problems.error(code, f"{tidy!r} is no wood; {todo}", file, where)
        return tidy
    names = [text for w in own for text in (w.name, *w.synonyms)]
    names += [text for s in SPECIES for text in (s.name, *s.aliases)]
    near = nearest(tidy, names, LIKE_A_SLIP) or next((n for n in names if _is_slip_of(tidy, n)), None)
    if near is not None and not _is_another_wood(tidy, names):
        problems.error(code, f"unknown species {tidy!r}; did you mean {near!r}?", file, where)
    else:
        problems.note(
            code,
            f"species {tidy!r} is not in the species table; no movement is known: "
            f'give your own figures under [species."{tidy}"] in the shop file',
            file,
            where,
        )
    return tidy


def _is_another_wood(name: str, names: Iterable[str]) -> bool:
    """Tell whether each word of a name is spelt as in some known name: ``white beech`` is no slip."""
    known = {w for text in names for w in _words(text)}
    return all(word in known for word in _words(name))


def _is_slip_of(name: str, known: str) -> bool:
    """Tell whether each word of a name is a known one with a slip: one for 4 to 6 letters, two for more."""
    words, meant = _words(name), _words(known)
    return len(words) == len(meant) and all(
        slips_between(a, b) <= (0 if len(b) < 4 else 1 if len(b) < 7 else 2) for a, b in zip(words, meant)
    )


def _words(text: str) -> list[str]:
    return text.casefold().replace("-", " ").replace(",", " ").split()


def tell_species_without_stock(
    parts: Iterable[Part],
    pieces: Sequence[Piece],
    orders: Sequence[Order],
    problems: Problems,
    file: str,
    own: Sequence[OwnWood] = (),
    places: Mapping[str, str] = MappingProxyType({}),
) -> None:
    """Warn of woods that may be several or that the rack spells otherwise, and of orders that no wood serves.

    Parameters
    ----------
    parts : iterable of Part
    pieces : sequence of Piece
        Of the rack; none when it could not be read.
    orders : sequence of Order
    problems : Problems
    file : str
        Name of the shop file.
    own : sequence of OwnWood
    places : mapping of str to str
        Key and line of the species of each part.
    """
    there = {p.species for p in pieces}
    for part in parts:
        place = places.get(part.name, f"part.{part.name}.species")
        told = [m for name in part.species if (m := _odd_name(name, there, own))]
        waiting = [o.name for o in orders if o.part == part.name and not o.hold]
        if not told and there and part.species and not there & set(part.species) and waiting:
            has = ", ".join(sorted(there)[:6]) + (" ..." if len(there) > 6 else "")
            filled = f"order{'s' if len(waiting) > 1 else ''} {', '.join(map(repr, waiting[:3]))}"
            woods = " or ".join(part.species)
            told = [f"no piece on the rack is {woods}, so {filled} cannot be filled; the rack has {has}"]
        for message in told:
            problems.warning("S011", message, file, place)


def _odd_name(name: str, there: set[str], own: Sequence[OwnWood]) -> str:
    """Return what is odd about a wood that a part asks for, ``""`` for nothing."""
    woods = SEVERAL.get(name.casefold(), ())
    has = [s for s in woods if s in there]
    if has and name not in there:
        return f"{name!r} may be several woods; the rack has {', '.join(has)}: write {_or(has)}"
    if woods:
        return f"{name!r} may be several woods; write which: {', '.join(woods)}"
    near = None if name in there or species_of(name, own) else nearest(name, sorted(there), LIKE_A_SLIP)
    return f"no piece of the rack is of species {name!r}; did you mean {near!r}?" if near else ""


def _or(names: Iterable[str]) -> str:
    return " or ".join(f'"{n}"' for n in names)
