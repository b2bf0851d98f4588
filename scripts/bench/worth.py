"""Most value of rectangles from one sheet, solved to proof with CP-SAT."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bench.rectangles import Rect


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthAnswer:
    """Rectangles that were chosen.

    Parameters
    ----------
    rects : tuple of Rect
    value : int
    bound : int
        No choice is worth more.
    """

    rects: tuple[Rect, ...]
    value: int
    bound: int

    @property
    def proven(self) -> bool:
        """Whether the value equals its bound."""
        return self.value == self.bound


def most_value(
    sides: Sequence[tuple[int, int]],
    counts: Sequence[int],
    values: Sequence[int],
    width: int,
    height: int,
    *,
    turn: bool = False,
    seconds: float | None = None,
    effort: float = 120.0,
    seed: int = 1,
) -> WorthAnswer:
    """Choose and place rectangles for the most value; no overlap, sides along the axes.

    Parameters
    ----------
    sides : sequence of (int, int)
    counts, values : sequence of int
        Most copies of each kind, and the worth of one.
    width, height : int
        Of the sheet.
    turn : bool
        Whether a rectangle may be turned by 90 degrees.
    seconds : float, optional
        Ceiling.
    effort : float
        In the solver's deterministic seconds.
    seed : int
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    xs, ys, terms, copies = [], [], [], []
    demand: list[tuple[int, object]] = []
    for k, ((w, h), count, value) in enumerate(zip(sides, counts, values)):
        last = None
        for _ in range(count):
            options = []
            for turned in (False, True) if turn and w != h else (False,):
                a, b = (h, w) if turned else (w, h)
                if a > width or b > height:
                    continue
                use = model.new_bool_var("")
                x = model.new_int_var(0, width - a, "")
                y = model.new_int_var(0, height - b, "")
                xs.append(model.new_optional_fixed_size_interval_var(x, a, use, ""))
                ys.append(model.new_optional_fixed_size_interval_var(y, b, use, ""))
                options.append((use, x, y, turned))
                terms.append(value * use)
                demand.append((w * h, use))
            if not options:
                continue
            model.add_at_most_one(o[0] for o in options)
            here = sum(o[0] for o in options)
            if last is not None:  # copies are alike: use the first ones
                model.add(here <= last)
            last = here
            copies.append((k, options))
    model.add_no_overlap_2d(xs, ys)
    model.add(sum(a * use for a, use in demand) <= width * height)  # type: ignore[operator, misc]
    model.maximize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = seed
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return WorthAnswer(rects=(), value=0, bound=sum(v * c for v, c in zip(values, counts)))
    rects = [
        Rect(kind=k, x=int(solver.value(x)), y=int(solver.value(y)), turned=turned)
        for k, options in copies
        for use, x, y, turned in options
        if solver.boolean_value(use)
    ]
    value = round(solver.objective_value)
    return WorthAnswer(
        rects=tuple(sorted(rects, key=lambda r: (r.kind, r.x, r.y))),
        value=value,
        bound=value if status == cp_model.OPTIMAL else int(solver.best_objective_bound),
    )
