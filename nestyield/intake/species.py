"""Names of species as makers write them, brought to the names of the species table."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from nestyield.intake.problems import Problems, nearest, slips_between
from nestyield.model import OwnWood, Part, Piece
from nestyield.wood.own import own_wood, species_of
from nestyield.wood.species import SEVERAL, SPECIES, find, is_another_name

#: Likeness from which a name that is not in the table looks like a slip of the pen.
LIKE_A_SLIP = 0.8


def canonical_species(
    name: str, problems: Problems, code: str, file: str, where: str, own: Sequence[OwnWood] = ()
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
        woods = ", ".join(SEVERAL[tidy.casefold()])
        problems.warning(
            code, f"{tidy!r} may be several woods, which move differently; write which: {woods}", file
        )
        return tidy
    some = [s.strip() for s in re.split(r",|/|;|\bor\b|\band\b", tidy) if s.strip()]
    if len(some) > 1 and all(find(s) or s.casefold() in SEVERAL or own_wood(s, own) for s in some):
        quoted = ", ".join(f'"{s}"' for s in some)
        if code == "S011":
            message = f"expected one species, got {len(some)}: {tidy!r}; write a list: [{quoted}]"
        else:
            message = f"the cell names {len(some)} woods: {tidy}; write the one that this piece is of"
        problems.error(code, message, file, where)
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
    pieces: Iterable[Piece],
    problems: Problems,
    file: str,
    own: Sequence[OwnWood] = (),
) -> None:
    """Warn where a part asks for a wood of its own name that the rack spells a little differently.

    Parameters
    ----------
    parts : iterable of Part
    pieces : iterable of Piece
    problems : Problems
    file : str
        Name of the shop file.
    own : sequence of OwnWood
    """
    there = {p.species for p in pieces}
    for part in parts:
        for name in part.species:
            if name in there or species_of(name, own) is not None:
                continue
            kinds = [s for s in SEVERAL.get(name.casefold(), ()) if s in there]
            if kinds:
                has = ", ".join(kinds)
                message = f"no piece of the rack is of species {name!r}; it has {has}: write that"
                problems.warning("S011", message, file, f"part.{part.name}.species")
                continue
            near = nearest(name, sorted(there), LIKE_A_SLIP)
            if near is not None:
                message = f"no piece of the rack is of species {name!r}; did you mean {near!r}?"
                problems.warning("S011", message, file, f"part.{part.name}.species")
