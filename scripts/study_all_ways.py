"""Small shops of rectangles through `nestyield plan`, against trying every way by hand.

    python scripts/study_all_ways.py racks|ways [--cases N] [--first M] [--seed K] [--keep DIR] [--only CASE]

``racks``: 1 to 4 boards that lie on the bed and up to five rectangular parts of one to three sizes, several on a board;
no glue-ups. ``ways``: boards too long or too wide for the bed as well, narrow ones to be glued up, all in one choice.

Beside the project: every mixture of parts that a board holds (edges of parts where edges of others end, in every order),
on the whole board or on blanks sawn off it by cuts from edge to edge, each cut as near as what is before it allows; every
set of boards that side by side hold a part, also several lengths of one board; then every share of the boards. Compared
are the copies of each group of orders, then boards sawn apart to be glued to themselves, then the cost of stock and
joints. One copy of a board goes to one glue-up, or to parts on itself, never to both. A board longer than the bed may be
crosscut to become a member; where only that makes the difference (a fault since mended) it is counted apart.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from study_shops import run

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

GAP, MARGIN, KERF, JOINTING, NARROWEST, SLIVER, BED = 9, 12, 3, 0.8, 40.0, 20.0, 700
JOINT_COST, MOST_PIECES = 3.0, 4
#: Copies of each size of part.
Made = tuple[int, ...]


@dataclass(frozen=True)
class Case:
    """A shop of rectangles, lengths in whole millimeters, grain along the first."""

    parts: tuple[tuple[int, int], ...]
    counts: Made
    priorities: tuple[int, ...]
    boards: tuple[tuple[int, int, int, float], ...]  # length, width, copies, value
    glue: bool

    def write(self, folder: Path) -> None:
        """Write the shop folder."""
        folder.mkdir(parents=True)
        text = ['[shop]\nname = "All ways"\nunits = "mm"\nrack = "rack.csv"', "[cutter]\ndiameter = 6"]
        text.append(f"[allowance]\nblank_margin = {MARGIN}\nbetween_parts = {GAP}\njointing = {JOINTING}")
        text.append(f"[glueup]\nmost_pieces = {MOST_PIECES if self.glue else 1}\njoint_cost = {JOINT_COST}")
        text.append(f"least_piece_width = {NARROWEST}\nsliver = {SLIVER}")
        text.append(f"[machines]\nsaw_kerf = {KERF}\nsaw_cut_cost = 0")
        text.append(
            "[leftover]\nworth = 0\n[prefer]\nlargest_leftover = 0\n[search]\neffort = 1\nseconds = 3000"
        )
        side = BED if self.glue else 3000
        text.append(f"[bed.bench]\ntravel_x = {side}\ntravel_y = {side}")
        for k, (length, width) in enumerate(self.parts):
            doc = ezdxf.new("R2010")
            doc.header["$INSUNITS"] = 4
            corners = [(0, 0), (length, 0), (length, width), (0, width)]
            doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "OUTLINE"})
            doc.saveas(folder / f"p{k}.dxf")
            text.append(f'[part.p{k}]\ndrawing = "p{k}.dxf"\nthickness = 40\ngrain_tolerance = 0')
            text.append(f'[part.p{k}.layers]\nOUTLINE = "outline"')
            text.append(f'[[order]]\nname = "o{k}"\npart = "p{k}"\ncount = {self.counts[k]}')
            text.append(f"priority = {self.priorities[k]}")
        (folder / "shop.toml").write_text("\n".join(text) + "\n")
        rows = ["piece,species,thickness,length,width,count,value"]
        rows += [f"R{k},ash,44,{a},{b},{n},{v}" for k, (a, b, n, v) in enumerate(self.boards)]
        (folder / "rack.csv").write_text("\n".join(rows) + "\n")


def racks(rng: np.random.Generator) -> Case:
    """Boards that hold several parts each."""
    sizes = rng.choice([70, 85, 95, 110, 130, 160, 190, 240], (int(rng.integers(1, 4)), 2))
    parts = tuple((int(a), int(b)) for a, b in {tuple(x) for x in sizes.tolist()})
    counts = [1] * len(parts)
    for _ in range(int(rng.integers(0, 6 - len(parts)))):
        counts[int(rng.integers(len(parts)))] += 1
    boards = []
    for _ in range(int(rng.integers(1, 5))):
        k, j = (int(rng.integers(len(parts))) for _ in range(2))
        # as long and wide as a part or two, with some play or too little
        length = parts[k][0] + int(rng.integers(0, 2)) * (parts[j][0] + GAP) + 2 * MARGIN
        width = parts[j][1] + int(rng.integers(0, 2)) * (parts[k][1] + GAP) + 2 * MARGIN
        length, width = length + int(rng.integers(-8, 60)), width + int(rng.integers(-8, 60))
        boards.append((length, width, int(rng.choice([1, 1, 1, 2])), float(rng.choice([2, 3, 5, 7, 20]))))
    priorities = tuple(int(n) for n in rng.integers(1, 3, len(parts)))
    return Case(parts, tuple(counts), priorities, tuple(boards), glue=False)


def ways(rng: np.random.Generator) -> Case:
    """Boards of which some must be sawn before the bed and some are to be glued up."""
    widths = rng.choice([110, 130, 150, 180, 230], int(rng.integers(1, 3)), replace=False)
    parts = tuple((int(rng.integers(300, 341)), int(w)) for w in widths)
    boards = []
    for _ in range(int(rng.integers(2, 5))):
        kind = rng.choice(["strip", "strip", "board", "long", "wide"])
        low, high = {"strip": (326, 480), "board": (326, 700), "long": (705, 1250), "wide": (326, 690)}[kind]
        length = int(rng.integers(low, high))
        low, high = {"strip": (60, 150), "board": (100, 260), "long": (70, 260), "wide": (705, 900)}[kind]
        width = int(rng.integers(low, high))
        boards.append((length, width, int(rng.choice([1, 1, 2])), float(rng.choice([2, 3, 5, 20, 60]))))
    counts = tuple(int(n) for n in rng.integers(1, 3, len(parts)))
    priorities = tuple(int(n) for n in rng.integers(1, 3, len(parts)))
    return Case(parts, counts, priorities, tuple(boards), glue=True)


def packs(length: float, width: float, sizes: tuple[tuple[int, int], ...]) -> bool:
    """Tell whether rectangles, none turned, lie in one with margins and gaps.

    Pushed down and left, every rectangle ends at the border or at one that was laid before it: so all orders, and
    all corners of those before, are tried.
    """
    long, wide = length - 2 * MARGIN + GAP, width - 2 * MARGIN + GAP
    grown = tuple(sorted((a + GAP, b + GAP) for a, b in sizes))
    if any(a > long or b > wide for a, b in grown) or sum(a * b for a, b in grown) > long * wide:
        return False

    def lay(left: tuple[tuple[int, int], ...], laid: tuple[tuple[float, ...], ...]) -> bool:
        if not left:
            return True
        xs = {0.0, *(x1 for _, x1, _, _ in laid)}
        ys = {0.0, *(y1 for _, _, _, y1 in laid)}
        for k, (a, b) in enumerate(left):
            if k and left[k - 1] == left[k]:
                continue
            rest = left[:k] + left[k + 1 :]
            for x, y in itertools.product(xs, ys):
                if x + a > long or y + b > wide:
                    continue
                if any(x < x1 and x0 < x + a and y < y1 and y0 < y + b for x0, x1, y0, y1 in laid):
                    continue
                if lay(rest, (*laid, (x, x + a, y, y + b))):
                    return True
        return False

    return lay(grown, ())


class ByHand:
    """Everything that can be made of a shop."""

    def __init__(self, case: Case, crosscut: bool = True) -> None:
        self.case, self.crosscut = case, crosscut
        self.side = BED if case.glue else 3000
        self.packed = cache(self._packed)
        self.sawn = cache(self._sawn)

    def _packed(self, length: float, width: float, made: Made) -> bool:
        sizes = tuple(s for s, n in zip(self.case.parts, made) for _ in range(n))
        return packs(length, width, sizes)

    def _sawn(self, length: float, width: float, made: Made) -> bool:
        """Tell whether parts come off a board, sawn into blanks that the bed takes where it must be."""
        if not any(made):
            return True
        if length <= self.side and width <= self.side:
            return self.packed(length, width, made)
        for first in itertools.product(*(range(n + 1) for n in made)):
            if not any(first):
                continue
            rest = tuple(a - b for a, b in zip(made, first))
            for axis, whole in enumerate((length, width)):
                for end in self._ends(axis, first):
                    if end >= whole or end > self.side:
                        continue
                    cut = (end, width) if axis == 0 else (length, end)
                    left = whole - end - KERF
                    other = (left, width) if axis == 0 else (length, left)
                    if self.sawn(*cut, first) and (not any(rest) or (left > 0 and self.sawn(*other, rest))):
                        return True
        return False

    def _ends(self, axis: int, made: Made) -> list[float]:
        """Return where rows of some of the parts end."""
        sums = set()
        for some in itertools.product(*(range(n + 1) for n in made)):
            if any(some):
                along = sum(n * (size[axis] + GAP) for n, size in zip(some, self.case.parts))
                sums.add(float(along - GAP + 2 * MARGIN))
        return sorted(sums)

    def alone(self, board: tuple[int, int, int, float]) -> list[Made]:
        """Return every mixture of parts that one copy of a board makes."""
        most = itertools.product(*(range(n + 1) for n in self.case.counts))
        return [made for made in most if any(made) and self.sawn(board[0], board[1], made)]

    def glued(self) -> Iterator[tuple[Made, Counter[int], int]]:
        """Yield sets of boards that make a part: the part, copies used of each board, and members beyond those."""
        if not self.case.glue:
            return
        for k, (length, width) in enumerate(self.case.parts):
            made = tuple(int(j == k) for j in range(len(self.case.parts)))
            need = length + 2 * MARGIN
            several = [int((a + KERF) // (need + KERF)) if a >= need else 0 for a, *_ in self.case.boards]
            ways: list[list[tuple[int, int]]] = []  # members and copies of each board
            for n, (long, _, copies, _) in zip(several, self.case.boards):
                most = min(MOST_PIECES, n * copies)
                # without crosscuts what is left of a board stays on its last member, and must lie on the bed
                least = 1 if self.crosscut else 1 + max(0, math.ceil((long - self.side) / (need + KERF)))
                counts = [(m, c) for m in range(1, most + 1) for c in (math.ceil(m / n), min(m, copies))]
                ways.append([(0, 0), *((m, c) for m, c in counts if m >= least * c)])
            for some in itertools.product(*(dict.fromkeys(w) for w in ways)):
                members = [i for i, (m, _) in enumerate(some) for _ in range(m)]
                if not 2 <= len(members) <= MOST_PIECES:
                    continue
                if _holds(float(width), [float(self.case.boards[i][1]) for i in members]):
                    copies_used = Counter({i: c for i, (_, c) in enumerate(some) if c})
                    yield made, copies_used, len(members) - sum(copies_used.values())

    def best(self) -> tuple[Any, ...]:
        """Return copies of each group, members sawn apart (less is better), and cost, of the best of all shares."""
        case = self.case
        uses = [(m, Counter({i: 1}), 0, b[3]) for i, b in enumerate(case.boards) for m in self.alone(b)]
        for made, copies, apart in self.glued():
            cost = sum(case.boards[i][3] * n for i, n in copies.items())
            uses.append((made, copies, apart, cost + JOINT_COST * (sum(copies.values()) + apart - 1)))
        have = tuple(b[2] for b in case.boards)
        states = {((0,) * len(case.parts), have): {(0, 0.0)}}
        for made, copies, apart, cost in uses:
            again = list(states.items())
            while again:  # the same use as often as copies last
                fresh: dict[Any, set[tuple[int, float]]] = {}
                for (got, left), prices in again:
                    now = tuple(a + b for a, b in zip(got, made))
                    rest = tuple(n - copies[i] for i, n in enumerate(left))
                    if min(rest) < 0 or any(a > b for a, b in zip(now, case.counts)):
                        continue
                    new = {(a + apart, round(c + cost, 6)) for a, c in prices}
                    old = states.get((now, rest), set())
                    kept = {min(old | new)}
                    if kept != old:
                        fresh[now, rest] = kept
                states.update(fresh)
                again = list(fresh.items())
        groups = sorted(set(case.priorities))
        return max(
            (tuple(sum(n for n, p in zip(got, case.priorities) if p == g) for g in groups), -apart, -cost)
            for (got, _), prices in states.items()
            for apart, cost in prices
        )


def _holds(width: float, boards: list[float]) -> bool:
    """Tell whether boards side by side hold a part: as long as part and margin, jointed where they meet."""
    for order in set(itertools.permutations(boards)):
        least = most = 0.0
        for k, wide in enumerate(order):
            end = k in (0, len(order) - 1)
            low = max(SLIVER, NARROWEST - MARGIN) if end else NARROWEST
            high = wide - JOINTING - (MARGIN if end else JOINTING)
            if high < low:
                break
            least, most = least + low, most + high
        else:
            if least <= width + 1e-9 and most >= width - 1e-9:
                return True
    return False


def reached(case: Case, plan: dict[str, Any]) -> tuple[Any, ...]:
    """Return what a plan makes and costs, read from its layouts."""
    placed = {r["order"]: r["placed"] for r in plan["orders"]}
    groups = sorted(set(case.priorities))
    made = tuple(sum(placed[f"o{k}"] for k, p in enumerate(case.priorities) if p == g) for g in groups)
    apart, joints = 0, 0
    copies: set[tuple[str, int]] = set()
    for layout in plan["layouts"]:
        members = layout["blank"]["members"]
        here = {(m["piece"], m["copy"]) for m in members}
        apart += len(members) - len(here)
        joints += len(layout["blank"]["seams"])
        copies |= here
    cost = sum(case.boards[int(name[1:])][3] for name, _ in copies) + JOINT_COST * joints
    return made, -apart, -round(cost, 6)


def main() -> int:
    """Run the cases and print what differs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("kind", choices=("racks", "ways"))
    parser.add_argument("--cases", type=int, default=40)
    parser.add_argument(
        "--first", type=int, default=0, help="number of the first case, to run them in slices"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int)
    parser.add_argument("--keep", type=Path, help="folder for the shops that differ")
    args = parser.parse_args()
    make = {"racks": racks, "ways": ways}[args.kind]
    tally: Counter[str] = Counter()
    spent = by_hand = 0.0
    cases = range(args.first, args.first + args.cases) if args.only is None else [args.only]
    for k in cases:
        case = make(np.random.default_rng([args.seed, k]))
        started = time.process_time()
        best = ByHand(case).best()
        by_hand += time.process_time() - started
        started = time.process_time()
        with tempfile.TemporaryDirectory() as scratch:
            case.write(Path(scratch) / "shop")
            code, said = run("plan", Path(scratch) / "shop", "--out", Path(scratch) / "plan", "--workers", 1)
            if code == 2:
                raise RuntimeError(said)
            plan = json.loads((Path(scratch) / "plan" / "plan.json").read_text())
        spent += time.process_time() - started
        got = reached(case, plan)
        proven = all(
            o["proven"] for o in plan["objectives"] if o["goal"] in ("copies", "sawn apart", "value")
        )
        what = "equal" if got == best else "better" if got > best else "worse"
        if what == "worse" and got == ByHand(case, crosscut=False).best():
            what = "worse, equal but for crosscuts of single members"
        tally[f"{what}, {'proven' if proven else 'not proven'}"] += 1
        tally["shops with a glue-up"] += any(len(x["blank"]["members"]) > 1 for x in plan["layouts"])
        tally["shops with a board sawn first"] += bool(plan["sawings"])
        tally["shops in which not all can be made"] += sum(best[0]) < sum(case.counts)
        if what != "equal":
            print(f"case {k}: {what}: plan {got}, by hand {best}, {case}", flush=True)
            if args.keep:
                shutil.rmtree(args.keep / f"{args.kind}{k}", ignore_errors=True)
                case.write(args.keep / f"{args.kind}{k}")
    for name, n in sorted(tally.items()):
        print(f"{n:6d}  {name}")
    print(f"{len(cases)} shops, {spent:.0f} s of processor for the plans, {by_hand:.0f} by hand")
    return int(any(name.startswith(("worse, proven", "better")) for name in tally))


if __name__ == "__main__":
    sys.exit(main())
