"""Keys and tables of the shop file under the wrong heading: told once, and read where they belong."""

from __future__ import annotations

from typing import Any

from nestyield.intake.keys import FREE_SECTIONS, KEYS, keys_of, sections
from nestyield.intake.part_layers import MEANINGS, quoted
from nestyield.intake.values import Values, dotted

Path = tuple[str | int, ...]

#: Tables that belong to one of another kind.
_OWNER = {"layers": "part", "keep_out": "bed"}
#: Keys by which tables of a kind are known.
_MARKS = {"part": {"drawing", "thickness", "layers"}, "bed": {"travel_x", "travel_y", "keep_out"}}


def put_in_place(shop: Values) -> None:
    """Move what stands under the wrong heading, with one error each that says what to write.

    Parameters
    ----------
    shop : Values
        The whole shop file; its data and lines are changed.
    """
    _keys_above_their_section(shop)
    _tables_without_owner(shop)
    for kind in _MARKS:
        _names_with_dots(shop, kind)
    _layers_without_heading(shop)


def _tell(shop: Values, code: str, message: str, path: Path) -> None:
    line = shop.lines.get(path, shop.lines.get((*path, 0)))
    shop.problems.error(code, message, shop.file, dotted(path) + (f", line {line}" if line else ""))


def _move(shop: Values, old: Path, new: Path) -> None:
    """Move a key or table, and the lines of all in it."""
    table: Any = shop.data
    for key in old[:-1]:
        table = table[key]
    value = table.pop(old[-1])
    target: Any = shop.data
    for key in new[:-1]:
        target = target.setdefault(key, {})
    target[new[-1]] = value
    for path, line in list(shop.lines.items()):
        if path[: len(old)] == old:
            shop.lines.setdefault((*new, *path[len(old) :]), line)


def _keys_above_their_section(shop: Values) -> None:
    """``name = "My workshop"`` above ``[shop]``."""
    headings = [path[0] for path in sorted(shop.lines, key=lambda p: shop.lines[p]) if len(path) == 1]
    told: set[str] = set()
    for key, value in list(shop.data.items()):
        if isinstance(value, dict) or key in sections():
            continue
        homes = [
            k.section
            for k in KEYS
            if k.name == key and "." not in k.section and k.section not in ("order", *FREE_SECTIONS)
        ]
        there = [str(h) for h in headings if h in homes and isinstance(shop.data.get(str(h)), dict)]
        home = (there or homes or [""])[0]
        if not home or key in shop.data.get(home, {}):
            continue
        if there:
            _tell(shop, "S003", f"{key} stands above its section; move it below [{home}]", (key,))
        elif home not in told:
            message = f"the heading of {key} is missing; write [{home}] above this line"
            _tell(shop, "S003", message, (key,))
            told.add(home)
        _move(shop, (key,), (home, key))


def _tables_without_owner(shop: Values) -> None:
    """``[layers]`` for ``[part.NAME.layers]``: it belongs to the part above it."""
    for key, kind in _OWNER.items():
        value, owners = shop.data.get(key), shop.data.get(kind)
        line = shop.lines.get((key,), shop.lines.get((key, 0)))
        if not isinstance(value, (dict, list)) or not isinstance(owners, dict) or line is None:
            continue
        above = [(at, n) for n in owners if (at := shop.lines.get((kind, n))) is not None and at < line]
        if not above:
            continue
        name = max(above)[1]
        if not isinstance(owners[name], dict) or key in owners[name]:
            continue
        left, right = ("[[", "]]") if isinstance(value, list) else ("[", "]")
        wanted = f"{left}{kind}.{quoted(name)}.{key}{right}"
        _tell(shop, "S003", f"{left}{key}{right} lacks its {kind}; write {wanted}", (key,))
        _move(shop, (key,), (kind, name, key))


def _names_with_dots(shop: Values, kind: str) -> None:
    """``[part.T1.2]`` for ``[part."T1.2"]``."""
    tables = shop.data.get(kind)
    if not isinstance(tables, dict):
        return
    known = {k.name for k in keys_of(f"{kind}.*")}
    for name in list(tables):
        for path in _inside(tables[name], (name,), known, _MARKS[kind]):
            dotted_name = ".".join(path)
            if dotted_name in tables:
                continue
            layers = (kind, *path, "layers") in shop.lines
            also = f' and [part."{dotted_name}".layers]' if layers else ""
            message = f'a name with a dot needs quotes; write [{kind}."{dotted_name}"]{also}'
            _tell(shop, "S003", message, (kind, *path))
            _move(shop, (kind, *path), (kind, dotted_name))
        if tables[name] == {} and (kind, name) not in shop.lines:
            del tables[name]


def _inside(value: Any, path: tuple[str, ...], known: set[str], marks: set[str]) -> list[tuple[str, ...]]:
    """Return the paths of tables of a kind that lie inside another, by their keys."""
    if not isinstance(value, dict):
        return []
    out: list[tuple[str, ...]] = []
    for key, inner in value.items():
        if isinstance(inner, dict) and key not in known:
            here = (*path, key)
            out += [here] if marks & set(inner) else _inside(inner, here, known, marks)
    return out


def _layers_without_heading(shop: Values) -> None:
    """Layers among the keys of their part."""
    parts = shop.data.get("part")
    known = {k.name for k in keys_of("part.*")}
    for name, part in parts.items() if isinstance(parts, dict) else ():
        if not isinstance(part, dict):
            continue
        layers = [k for k, v in part.items() if k not in known and _is_layer(v)]
        heading = f"[part.{quoted(name)}.layers]"
        had = "layers" in part
        for k, key in enumerate(layers):
            if had:
                _tell(shop, "S004", f"{key} is a layer; move it below {heading}", ("part", name, key))
            elif k == 0:
                message = f"the heading of the layers is missing; write {heading} above this line"
                _tell(shop, "S004", message, ("part", name, key))
            if not had or (isinstance(part["layers"], dict) and key not in part["layers"]):
                _move(shop, ("part", name, key), ("part", name, "layers", key))


def _is_layer(value: Any) -> bool:
    role = value.get("role") if isinstance(value, dict) else value
    return isinstance(role, str) and role.strip().casefold() in MEANINGS
