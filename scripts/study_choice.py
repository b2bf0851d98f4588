"""Study of the choice: against trying everything, planted inventories, and the time of a large rack.

    .venv/test/bin/python scripts/study_choice.py [exhaustive] [pool] [planted] [large]

Prints a table a study; everything is seeded.
"""

from __future__ import annotations

import importlib.util
import sys
import time
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np

from nestyield.model import (
    Bed,
    Defect,
    Objective,
    Order,
    Outline,
    Part,
    Piece,
    Plan,
    Settings,
    Shape,
    Shop,
)
from nestyield.planfile import dumps
from nestyield.planning.choice import choose
from nestyield.planning.clock import Clock
from nestyield.planning.demand import demands_of, served
from nestyield.planning.run import make_plan

ROOT = Path(__file__).parents[1]


def load(path: Path) -> ModuleType:
    """Import a module of the tests by its path."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


class Memory(dict[str, bytes]):
    """A cache in memory, for timing a second run."""

    def put(self, key: str, data: bytes) -> None:
        """Keep bytes."""
        self[key] = data


def exhaustive(cases: int = 200) -> None:
    """Small racks: up to 6 pieces, 5 orders, every objective against trying every choice."""
    oracle = load(ROOT / "tests" / "planning" / "exhaustive.py")
    equal = unproven = 0
    for seed in range(1000, 1000 + cases):
        shop, pool = oracle.random_choice(np.random.default_rng(seed))
        choice = choose(
            shop, served(shop), demands_of(shop), pool, effort=1, seed=1, clock=Clock(seconds=600)
        )
        best = oracle.best_score(shop, pool)
        equal += all(same(o, b) for o, b in zip(choice.objectives, best))
        unproven += not all(o.proven for o in choice.objectives)
    print("\n| random small racks | equal in every objective | not proven |\n|---|---|---|")
    print(f"| {cases} | {equal} | {unproven} |")


def same(objective: Objective, best: float) -> bool:
    """Tell whether an objective is what trying everything gives."""
    step = 1.0 if objective.goal in ("copies", "seams") else 1e-4
    value = objective.value if objective.goal == "copies" else -objective.value
    return abs(value - best * step) < 1e-6


def pool(cases: int = 40) -> None:
    """Small shops, boards and their glue-ups: the plan against trying every set of boards for every copy.

    Rectangles: what can be made is worked out by hand. Odd boards: every set is tried by the program's own
    search without any bound, with the same costs.
    """
    oracle = load(ROOT / "tests" / "planning" / "exhaustive.py")
    print("\n| boards | shops | equal | with a glue-up | instead of a board that does | seconds a shop |")
    print("|---|---|---|---|---|---|")
    for odd in (False, True):
        equal = glued = instead = 0
        start = time.process_time()
        spent = 0.0
        for seed in range(2000, 2000 + cases):
            shop = oracle.random_rectangles(np.random.default_rng(seed), odd)
            start = time.process_time()
            plan = make_plan(shop, seed=1, effort=1, seconds=100_000, workers=1)
            spent += time.process_time() - start
            if odd:
                found = oracle.best_score(shop, [*oracle.singles(shop), *oracle.every_glue_up(shop)])
                goals = [o for o in plan.objectives if o.goal in ("copies", "value")]
                good = all(same(o, b) for o, b in zip(goals, found))
            else:
                good = oracle.reached(plan) == oracle.best_of_rectangles(shop)
            equal += good
            if not good:
                print(f"seed {seed} {'odd' if odd else 'rectangles'} differs: {plan.objectives}")
            ups = [x for x in plan.layouts if len(x.blank.members) > 1]
            glued += bool(ups)
            parts = {p.part for x in ups for p in x.placements}
            alone = [c for c in oracle.singles(shop) for w, n in enumerate(c.made) if n]
            used = {m.piece for x in plan.layouts for m in x.blank.members}
            instead += any(
                demands_of(shop)[w].part in parts and shop.pieces[c.rows[0]].name not in used
                for c in alone
                for w, n in enumerate(c.made)
                if n
            )
        name = "a side aslant" if odd else "rectangles"
        print(f"| {name} | {cases} | {equal} | {glued} | {instead} | {spent / cases:.1f} |", flush=True)


def planted(most: int = 10) -> None:
    """K blanks that can serve K orders in one way only, shuffled, of equal value."""
    print("\n| K | orders met | seconds |\n|---|---|---|")
    for k in range(1, most + 1):
        rng = np.random.default_rng(k)
        lengths = [200.0 + 25 * i for i in range(k)]
        parts = [rectangle_part(f"p{i}", length, 80.0) for i, length in enumerate(lengths)]
        pieces = [board(f"R{i}", length + 10.5, 90.5, value=1.0) for i, length in enumerate(lengths)]
        orders = [Order(name=f"o{i}", part=f"p{i}") for i in range(k)]
        order = rng.permutation(k)
        shop = make_shop([pieces[i] for i in order], parts, [orders[i] for i in rng.permutation(k)])
        start = time.perf_counter()
        plan = make_plan(shop, seed=1, effort=1, seconds=600, workers=2)
        print(f"| {k} | {sum(r.placed for r in plan.orders)} | {time.perf_counter() - start:.1f} |")


def large(pieces: int = 200, orders: int = 20) -> None:
    """A rack of odd pieces: time to a plan, its gap, and a second run with one row changed."""
    shop = random_rack(np.random.default_rng(5), pieces, orders)
    memory = Memory()
    first, seconds = timed(shop, memory)
    known = len(memory)
    piece = shop.pieces[17]
    shape = Shape(outer=Outline.rectangle(0, 0, 811, 233))
    changed = replace(
        shop, pieces=(*shop.pieces[:17], replace(piece, shape=shape, defects=()), *shop.pieces[18:])
    )
    second, again = timed(changed, memory)
    fresh, _ = timed(changed, Memory())
    print("\n| pieces | orders | copies met | pool | gap of the value | first run s | one row changed s |")
    print("|---|---|---|---|---|---|---|")
    met = f"{sum(r.placed for r in first.orders)} of {sum(o.count for o in shop.orders)}"
    value = next(o for o in first.objectives if o.goal == "value")
    print(
        f"| {pieces} | {orders} | {met} | {first.tried} | {value.value - value.bound:.4f}"
        f" | {seconds:.1f} | {again:.1f} ({len(memory) - known} rows tried) |"
    )
    print(f"\nThe second run's plan equals one made without memory: {dumps(second) == dumps(fresh)}")


def timed(shop: Shop, memory: Memory) -> tuple[Plan, float]:
    """Return a plan and the seconds it took."""
    start = time.perf_counter()
    plan = make_plan(shop, seed=1, effort=1, seconds=3600, workers=2, cache=memory)
    return plan, time.perf_counter() - start


def board(name: str, length: float, width: float, **more: object) -> Piece:
    """Return a rectangular board."""
    shape = Shape(outer=Outline.rectangle(0, 0, length, width))
    return Piece(**{"name": name, "species": "maple", "thickness_mm": 47.0, "shape": shape, **more})  # type: ignore[arg-type]


def rectangle_part(name: str, length: float, width: float) -> Part:
    """Return a rectangular part."""
    outline = Outline.rectangle(0, 0, length, width)
    return Part(name=name, drawing="", outline=outline, thickness_mm=44.0, grain_tolerance_deg=0)


def make_shop(pieces: list[Piece], parts: list[Part], orders: list[Order]) -> Shop:
    """Return a shop with one large bed."""
    return Shop(
        name="study",
        units="mm",
        settings=Settings(cutter_diameter_mm=6, blank_margin_mm=5),
        beds=(Bed(name="b", travel_x_mm=3000, travel_y_mm=1500, table_x_mm=(0, 3000), table_y_mm=(0, 1500)),),
        parts=tuple(parts),
        pieces=tuple(pieces),
        orders=tuple(orders),
    )


def blob(rng: np.random.Generator, length: float, width: float, corners: int, rough: float) -> Outline:
    """Return an odd outline of about that size."""
    angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
    reach = rng.uniform(1 - rough, 1, corners)
    square = 1 / np.maximum(np.abs(np.cos(angles)), np.abs(np.sin(angles)))
    x = 0.5 * length * reach * square * np.cos(angles)
    y = 0.5 * width * reach * square * np.sin(angles)
    return Outline.polygon(list(zip(x.tolist(), y.tolist())))


def random_rack(rng: np.random.Generator, pieces: int, orders: int) -> Shop:
    """Return a rack of odd pieces of three species, with defects, and orders for ten parts."""
    species = ("maple", "cherry", "walnut")
    parts = [
        replace(
            rectangle_part(f"p{k}", 1, 1),
            outline=blob(rng, rng.uniform(250, 600), rng.uniform(60, 330), 24, 0.3),
            species=(species[k % 3],) if k % 4 else (),
            thickness_mm=float(rng.choice([20.0, 44.0])),
            grain_tolerance_deg=4.0,
        )
        for k in range(10)
    ]
    rack = []
    for k in range(pieces):
        length, width = rng.uniform(250, 1400), rng.uniform(80, 420)
        shape = Shape(outer=blob(rng, length, width, 14, 0.12))
        knots = tuple(
            Defect(
                name=f"d{k}.{i}",
                kind="knot",
                shape=Shape(
                    outer=Outline.circle(
                        rng.uniform(-0.4, 0.4) * length, rng.uniform(-0.4, 0.4) * width, rng.uniform(4, 20)
                    )
                ),
            )
            for i in range(int(rng.integers(0, 4)))
        )
        thickness = float(rng.choice([23.0, 26.0, 47.0, 50.0]))
        rack.append(
            board(f"R{k}", 1, 1, shape=shape, species=species[k % 3], thickness_mm=thickness, defects=knots)
        )
    wanted = [
        Order(
            name=f"o{k}",
            part=f"p{int(rng.integers(10))}",
            count=int(rng.integers(1, 4)),
            priority=int(rng.integers(1, 6)),
        )
        for k in range(orders)
    ]
    return make_shop(rack, parts, wanted)


STUDIES = {"exhaustive": exhaustive, "pool": pool, "planted": planted, "large": large}

if __name__ == "__main__":
    for name in sys.argv[1:] or list(STUDIES):
        STUDIES[name]()
