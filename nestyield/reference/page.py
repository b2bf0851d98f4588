"""The blocks of README's reference: keys, columns, roles, kinds of defect, woods, layers, codes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from nestyield.audit.codes import CODES as AUDIT_CODES
from nestyield.intake.problems import CODES as INTAKE_CODES
from nestyield.intake.tables import DEFECTS, RACK, Column
from nestyield.model import DEFECTS as KINDS
from nestyield.photo.told import CODES as PHOTO_CODES
from nestyield.reference.meanings import DEFECT_MEANS, LAYERS, ROLE_MEANS, WORDS
from nestyield.reference.shop_file import shop_file
from nestyield.wood.species import SPECIES

WIDEST = 120


def blocks() -> dict[str, str]:
    """Return each block by its name: what stands between ``<!-- NAME -->`` and ``<!-- end of NAME -->``."""
    return {
        "keys": f"```toml\n{shop_file().rstrip()}\n```\n",
        "roles": _table(("role", "for"), ROLE_MEANS.items()),
        "rack columns": _columns(RACK),
        "defect columns": _columns(DEFECTS),
        "kinds": _kinds(),
        "species": species(),
        "words": _table(("word", "what it means"), WORDS.items()),
        "layers": _table(("layer", "what is on it"), _layers()),
        "codes": "\n".join(
            (
                _codes("Reading a shop folder", INTAKE_CODES),
                _codes("Reading pictures", PHOTO_CODES),
                _codes("The check of a plan", AUDIT_CODES),
            )
        ),
    }


def filled(text: str) -> str:
    """Return a page with each block brought up to date.

    Raises
    ------
    ValueError
        When the page lacks a mark.
    """
    for name, block in blocks().items():
        before, begin, rest = text.partition(f"<!-- {name} -->\n")
        _, end, after = rest.partition(f"<!-- end of {name} -->")
        if not begin or not end:
            raise ValueError(f"the page has no marks <!-- {name} --> and <!-- end of {name} -->")
        text = f"{before}{begin}{block}{end}{after}"
    return text


def species() -> str:
    """Return the names of the species table, each with the names that are read as it."""
    woods, sheets = ([s for s in SPECIES if s.sheet is kind] for kind in (False, True))
    names = [
        "; ".join(f"{s.name} ({', '.join(s.aliases)})" if s.aliases else s.name for s in kind)
        for kind in (woods, sheets)
    ]
    wrapped = [textwrap.fill(t, WIDEST) for t in (f"{names[0]}.", f"Sheets: {names[1]}.")]
    return "\n\n".join(wrapped) + "\n"


def _table(head: tuple[str, str], rows: Iterable[tuple[str, str]]) -> str:
    lines = [f"| {head[0]} | {head[1]} |", "|---|---|"]
    lines += [f"| {a} | {b} |" for a, b in rows]
    return "\n".join(lines) + "\n"


def _kinds() -> str:
    lines = ["| kind | in drawings | what it is |", "|---|---|---|"]
    lines += [f"| {kind} | {KINDS[kind].letters} | {means} |" for kind, means in DEFECT_MEANS.items()]
    return "\n".join(lines) + "\n"


def _columns(columns: tuple[Column, ...]) -> str:
    return _table(("column", "what it holds"), ((c.name, c.doc) for c in columns))


def _layers() -> Iterable[tuple[str, str]]:
    return ((", ".join(f"`{name}`" for name in names), means) for names, means in LAYERS)


def _codes(title: str, codes: dict[str, str]) -> str:
    return f"<details><summary>{title}</summary>\n\n{_table(('code', 'rule'), codes.items())}\n</details>\n"
