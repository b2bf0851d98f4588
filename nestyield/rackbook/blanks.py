"""The blanks of a plan by name."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from nestyield.model import Layout, Plan, Sawing
from nestyield.rackbook.errors import RackbookError


def chosen(plan: Plan, blanks: Iterable[str]) -> tuple[Layout, ...]:
    """Return the layouts of some blanks, all for none; RackbookError names the nearest for a wrong one.

    Blanks that are sawn off one copy of a piece go together: with one of them come the others.
    """
    by_name = {layout.blank.name: layout for layout in plan.layouts}
    wanted = list(dict.fromkeys(blanks)) or list(by_name)
    for name in wanted:
        if name not in by_name:
            near = difflib.get_close_matches(name, by_name, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f" (it has {', '.join(by_name) or 'none'})"
            raise RackbookError(f"the plan has no blank {name!r}{hint}")
    if not wanted:
        raise RackbookError("the plan uses no piece of the rack; there is nothing to take")
    for sawing in plan.sawings:
        if not set(wanted).isdisjoint(sawing.blanks):
            wanted += sawing.blanks
    return tuple(layout for name, layout in by_name.items() if name in wanted)


def sawn_with(plan: Plan, layouts: Iterable[Layout]) -> tuple[Sawing, ...]:
    """Return how the pieces of some layouts are sawn before the bed."""
    names = {layout.blank.name for layout in layouts}
    return tuple(s for s in plan.sawings if not names.isdisjoint(s.blanks))
