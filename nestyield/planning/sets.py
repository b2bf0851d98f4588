"""Sets: orders that are of use only whole, from matching wood where asked, as rules of the choice.

The copies of a set's orders are shared out to its pieces of work ("mandolin 1", "mandolin 2"): of one with
fewer copies than the others a part was cut before, and its first ones need less of it. Equal ones are one class;
of each class whole ones are made, and every copy that is placed belongs to one of them. Where orders match, each
whole one has wood of one label for all of them: its species, its row of the rack, or its board.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from ortools.sat.python import cp_model

from nestyield.model import Order, Shop
from nestyield.model.sets import SetClass, WantedSet, begun_woods, sets_of
from nestyield.planning.demand import Demand


class Way(Protocol):
    """One way to use rows of the rack, as far as sets ask."""

    @property
    def rows(self) -> tuple[int, ...]:
        """Rows of the rack, one for each copy used."""

    @property
    def made(self) -> tuple[int, ...]:
        """Copies of each want."""

    @property
    def sawn_apart(self) -> int:
        """Members beyond the first out of each copy."""


def wood_label(shop: Shop, candidate: Way, match: str) -> str:
    """Return what matching wood has in common with a candidate's; ``""`` where its pieces do not match.

    Copies of a row are boards of their own, unless the row says of which board they all are.

    Parameters
    ----------
    shop : Shop
    candidate : Candidate
    match : {"species", "row", "board"}
    """
    pieces = [shop.pieces[row] for row in candidate.rows]
    if match == "board" and any(p.count > 1 and p.board == p.name for p in pieces):
        return ""  # told apart by use: see `_Copies`
    labels = {{"species": p.species, "row": p.name, "board": p.board}[match] for p in pieces}
    return labels.pop() if len(labels) == 1 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """A copy of an order that is placed.

    Parameters
    ----------
    order : int
        Index in the served orders.
    copy : int
        From 1.
    wood : str
        Label of the wood that it must be of; ``""`` for any.
    """

    order: int
    copy: int
    wood: str = ""


@dataclass(slots=True, kw_only=True)
class SetModel:
    """The sets in a model of the choice.

    Parameters
    ----------
    sets : tuple of WantedSet
    made : dict
        Set and class -> whole ones made.
    matched : dict
        Set, class and label of wood -> whole ones made of it.
    lacking : dict of int to variable
        Order -> copies that are missing of it, where the model asks for every set.
    of_wood : dict
        Order and label of wood -> copies placed of it.
    """

    sets: tuple[WantedSet, ...]
    made: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    matched: dict[tuple[int, int, str], cp_model.IntVar] = field(default_factory=dict)
    lacking: dict[int, cp_model.IntVar] = field(default_factory=dict)
    of_wood: dict[tuple[int, str], cp_model.IntVar] = field(default_factory=dict)

    @property
    def variables(self) -> tuple[cp_model.IntVar, ...]:
        """All of them, in a fixed order."""
        return (*self.made.values(), *self.matched.values())


def add_sets(
    model: cp_model.CpModel,
    shop: Shop,
    orders: Sequence[Order],
    demands: Sequence[Demand],
    pool: Sequence[Way],
    use: Sequence[cp_model.IntVar],
    placed: Sequence[cp_model.IntVar],
    *,
    short: bool = False,
) -> SetModel:
    """Add to a model that sets are made whole or not at all, and from matching wood.

    Parameters
    ----------
    model : CpModel
    shop : Shop
    orders : sequence of Order
        Served orders.
    demands : sequence of Demand
    pool : sequence of Candidate
    use, placed : sequence of variables
        Uses of each candidate, copies placed of each order.
    short : bool
        Ask for every set, and count the copies that it lacks instead.
    """
    sets = sets_of(orders)
    found = SetModel(sets=sets)
    for s, wanted in enumerate(sets):
        for c, kind in enumerate(wanted.classes):
            low = kind.size if short else 0
            found.made[s, c] = model.new_int_var(low, kind.size, f"set {s} class {c}")
        for i, k in enumerate(wanted.orders):
            needs = sum(kind.need[i] * found.made[s, c] for c, kind in enumerate(wanted.classes))
            if short:
                found.lacking[k] = model.new_int_var(0, orders[k].count, f"lacking {k}")
                model.add(placed[k] + found.lacking[k] == needs)
            else:
                model.add(placed[k] == needs)
    for match in dict.fromkeys(w.match for w in sets if w.match):
        _matched(model, shop, orders, demands, pool, use, placed, found, match)
    return found


def _matched(
    model: cp_model.CpModel,
    shop: Shop,
    orders: Sequence[Order],
    demands: Sequence[Demand],
    pool: Sequence[Way],
    use: Sequence[cp_model.IntVar],
    placed: Sequence[cp_model.IntVar],
    found: SetModel,
    match: str,
) -> None:
    """Add that each whole one of the sets that match so has wood of one label."""
    members = {k for w in found.sets if w.match == match for k in w.matching}
    labels = _labels(shop, orders, demands, pool, match, members)
    groups = list(dict.fromkeys(label for label in labels if label))
    of_wood: dict[tuple[int, str], cp_model.IntVar] = {
        (k, g): model.new_int_var(0, orders[k].count, f"{match} {k} {g}") for k in members for g in groups
    }
    found.of_wood |= of_wood
    for w, want in enumerate(demands):
        mine = [k for k, order in enumerate(orders) if k in members and order.name in want.orders]
        if not mine:
            continue
        for g in groups:
            made = sum(c.made[w] * use[i] for i, c in enumerate(pool) if c.made[w] and labels[i] == g)
            model.add(sum(of_wood[k, g] for k in mine) <= made)
    for s, wanted in enumerate(found.sets):
        if wanted.match != match:
            continue
        for c, kind in enumerate(wanted.classes):
            for g in (*groups, ""):
                found.matched[s, c, g] = model.new_int_var(0, kind.size, f"{match} {s} {c} {g}")
            model.add(sum(found.matched[s, c, g] for g in (*groups, "")) == found.made[s, c])
            if not found.lacking:
                model.add(found.matched[s, c, ""] == 0)
        for k in wanted.matching:
            i = wanted.orders.index(k)
            model.add(sum(of_wood[k, g] for g in groups) == placed[k])
            for g in groups:
                needs = sum(kind.need[i] * found.matched[s, c, g] for c, kind in enumerate(wanted.classes))
                # what is bought can be of a species that is there, and of no row or board that is
                if found.lacking and match == "species":
                    model.add(of_wood[k, g] <= needs)
                else:
                    model.add(of_wood[k, g] == needs)
        _as_begun(model, shop, orders, wanted, s, groups, found)
    for i, candidate in enumerate(pool):
        if labels[i].startswith(_COPIES):
            _copy_by_copy(model, demands, candidate, use[i], labels[i], found, orders, match)


def _as_begun(
    model: cp_model.CpModel,
    shop: Shop,
    orders: Sequence[Order],
    wanted: WantedSet,
    number: int,
    groups: Sequence[str],
    found: SetModel,
) -> None:
    """Add that those of a set that were begun in some wood are finished in it.

    What is known of the wood bounds how many begun ones get each; where the wood of some is not known, any may be
    theirs.
    """
    woods = begun_woods(shop.orders, wanted.name)
    if not woods:
        return
    here = {orders[k].name for k in wanted.orders}
    all_begun = any(o.set == wanted.name and o.cut_from and o.name not in here for o in shop.orders)
    begun = [
        c
        for c, kind in enumerate(wanted.classes)
        if all_begun or any(kind.need[wanted.orders.index(k)] < orders[k].per_set for k in wanted.matching)
    ]
    unknown = max(0, sum(wanted.classes[c].size for c in begun) - woods.total())
    for g in groups:
        model.add(sum(found.matched[number, c, g] for c in begun) <= woods[g] + unknown)


#: Begin of the labels of candidates whose every use is a board of its own.
_COPIES = "\x00"


def _labels(
    shop: Shop,
    orders: Sequence[Order],
    demands: Sequence[Demand],
    pool: Sequence[Way],
    match: str,
    members: set[int],
) -> list[str]:
    """Return the label of each candidate's wood; each candidate on a row of several boards has its own."""
    names = {orders[k].name for k in members}
    ours = [bool(names & set(want.orders)) for want in demands]
    only = [not set(want.orders) - names for want in demands]
    out = []
    for i, candidate in enumerate(pool):
        if not any(n and ours[w] for w, n in enumerate(candidate.made)):
            out.append("")
            continue
        label = wood_label(shop, candidate, match)
        if (
            not label
            and match == "board"
            and len(set(candidate.rows)) == 1
            and candidate.sawn_apart + 1 >= len(candidate.rows)
        ):
            whole = len(candidate.rows) == 1 and all(
                only[w] for w, n in enumerate(candidate.made) if n and ours[w]
            )
            label = f"{_COPIES}{i}" if whole else ""
        out.append(label)
    return out


def _copy_by_copy(
    model: cp_model.CpModel,
    demands: Sequence[Demand],
    candidate: Way,
    use: cp_model.IntVar,
    label: str,
    found: SetModel,
    orders: Sequence[Order],
    match: str,
) -> None:
    """Add that a candidate, each use of which is a board of its own, holds whole ones of one set, or is not used."""
    free = True
    for s, wanted in enumerate(found.sets):
        if wanted.match != match:
            continue
        each = _whole_on(demands, candidate, wanted, wanted.classes[-1], orders) if free else 0
        for c in range(len(wanted.classes)):
            last = c + 1 == len(wanted.classes)
            model.add(found.matched[s, c, label] == (each * use if last else 0))
        free = free and not each


def _whole_on(
    demands: Sequence[Demand],
    candidate: Way,
    wanted: WantedSet,
    kind: SetClass,
    orders: Sequence[Order],
) -> int:
    """Return how many whole ones the matching parts on a candidate are; 0 when something is over."""
    counts = set()
    left = dict(enumerate(candidate.made))
    for k in wanted.matching:
        need = kind.need[wanted.orders.index(k)]
        w = next(i for i, want in enumerate(demands) if orders[k].name in want.orders)
        if not need:
            return 0
        counts.add(candidate.made[w] / need)
        left[w] = 0
    whole = counts.pop() if len(counts) == 1 else 0.0
    return int(whole) if whole == int(whole) else 0


def lacking_species(sets: SetModel, value: Callable[[cp_model.IntVar], int]) -> dict[int, tuple[str, ...]]:
    """Return for each order that lacks copies of a matching species of which species these are.

    Parameters
    ----------
    sets : SetModel
        Of a model that asks for every set.
    value : callable
        Value of a variable.
    """
    found: dict[int, tuple[str, ...]] = {}
    for s, wanted in enumerate(sets.sets):
        for k in wanted.matching if wanted.match == "species" else ():
            i = wanted.orders.index(k)
            woods = {g: value(v) for (k2, g), v in sets.of_wood.items() if k2 == k}
            needs = {
                g: sum(kind.need[i] * value(sets.matched[s, c, g]) for c, kind in enumerate(wanted.classes))
                for g in woods
            }
            if value(sets.lacking[k]) == sum(n - woods[g] for g, n in needs.items()):
                found[k] = tuple(g for g, n in needs.items() if n > woods[g])
    return found


def handed(
    sets: SetModel, values: Mapping[int, int], orders: Sequence[Order], placed: Sequence[int]
) -> tuple[Handed, ...]:
    """Return which copies of each order are placed, and of which wood those of sets must be.

    Parameters
    ----------
    sets : SetModel
    values : mapping of int to int
        Value of each variable of the sets, by its index in the model.
    orders : sequence of Order
    placed : sequence of int
        Copies of each order.
    """
    out: list[Handed] = []
    in_sets = {k for wanted in sets.sets for k in wanted.orders}
    for k, n in enumerate(placed):
        if k not in in_sets:
            out += [Handed(order=k, copy=copy) for copy in range(1, n + 1)]
    for s, wanted in enumerate(sets.sets):
        done = [0] * len(wanted.orders)
        for c, kind in enumerate(wanted.classes):
            woods = [
                g
                for (s2, c2, g), variable in sets.matched.items()
                if (s2, c2) == (s, c)
                for _ in range(values[variable.index])
            ]
            made = values[sets.made[s, c].index]
            for number in range(kind.size):
                for i, k in enumerate(wanted.orders):
                    if number < made:
                        wood = woods[number] if woods and k in wanted.matching else ""
                        out += [
                            Handed(order=k, copy=done[i] + copy, wood=wood)
                            for copy in range(1, kind.need[i] + 1)
                        ]
                    done[i] += kind.need[i]
    return tuple(sorted(out, key=lambda h: (h.order, h.copy)))


def is_of(shop: Shop, candidate: Way, index: int, match: str, wood: str) -> bool:
    """Tell whether a candidate of the pool is of some wood."""
    if wood.startswith(_COPIES):
        return wood == f"{_COPIES}{index}"
    return wood_label(shop, candidate, match) == wood
