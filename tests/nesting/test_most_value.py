"""One sheet filled by the search for all parts at once: planted layouts, odd ends, and stopping early."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from nestyield.model.pose import Pose
from nestyield.nesting.sheet import Sheet, SheetItem, SheetLayout, nest


def quads(rng: np.random.Generator, across: int, up: int, width: int, height: int) -> list[np.ndarray]:
    """Cut a rectangle into quadrilaterals by moving the inner corners of a grid; whole micrometers."""
    xs = np.linspace(0, width, across + 1)
    ys = np.linspace(0, height, up + 1)
    corner = np.array([[(x, y) for y in ys] for x in xs])
    move = 0.25 * np.array([width / across, height / up])
    corner[1:-1, :, 0] += rng.uniform(-move[0], move[0], (across - 1, up + 1))
    corner[:, 1:-1, 1] += rng.uniform(-move[1], move[1], (across + 1, up - 1))
    whole = np.rint(corner).astype(np.int64)
    return [
        np.array([whole[i, j], whole[i + 1, j], whole[i + 1, j + 1], whole[i, j + 1]])
        for i in range(across)
        for j in range(up)
    ]


def laid(layout: SheetLayout, outlines: list[np.ndarray]) -> list[Polygon]:
    return [Polygon(Pose.of(p).on_grid([outlines[p.item]])[0]) for p in layout.places]


def faults(shapes: list[Polygon], sheet: Polygon, gap: float = 0.0) -> list[str]:
    out = [f"{i} outside" for i, s in enumerate(shapes) if not sheet.buffer(1.0).covers(s)]
    for i, a in enumerate(shapes):
        for j, b in enumerate(shapes[:i]):
            if gap and a.distance(b) < gap - 1.0:
                out.append(f"{i} and {j} nearer than the gap")
            elif not gap and a.buffer(-1.5).intersects(b):
                out.append(f"{i} and {j} overlap")
    return out


@pytest.mark.parametrize("seed", [1, *(pytest.param(s, marks=pytest.mark.study) for s in (2, 3))])
def test_a_planted_layout_with_a_little_room_is_found(seed: int, needs_jit: None) -> None:
    """Nine quadrilaterals that fill a rectangle all go on one that is 12 % longer."""
    outlines = quads(np.random.default_rng(seed), 3, 3, 800_000, 450_000)
    sheet = np.array([(0, 0), (896_000, 0), (896_000, 450_000), (0, 450_000)])
    items = [SheetItem(name=f"q{k}", outline=[q]) for k, q in enumerate(outlines)]
    layout = nest(
        items, [Sheet(name="s", region=[sheet])], goal="value", gap_um=0, seed=seed, effort=20_000_000
    )
    assert layout.left == (0,) * 9
    assert faults(laid(layout, outlines), box(0, 0, 896_000, 450_000)) == []


def test_nothing_lies_beyond_an_odd_end(needs_jit: None) -> None:
    """On a piece with a slanted end and a notch parts lie inside, and no more of them than the area holds."""
    ring = [(0, 0), (700_000, 0), (500_000, 300_000), (380_000, 210_000), (250_000, 300_000), (0, 300_000)]
    piece = Polygon(ring)
    part = np.array([(0, 0), (140_000, 0), (90_000, 80_000), (0, 80_000)])
    item = SheetItem(name="p", outline=[part], count=18, orientations=((0.0, False), (180.0, False)))
    layout = nest(
        [item],
        [Sheet(name="s", region=[np.array(ring)])],
        goal="value",
        gap_um=6_000,
        effort=300_000,
    )
    shapes = laid(layout, [part])
    assert faults(shapes, piece, gap=6_000) == []
    assert len(shapes) >= 11
    grown = Polygon(part).buffer(3_000).area
    assert len(shapes) <= piece.buffer(3_000).area / grown


@pytest.mark.study
def test_more_effort_is_not_worse(needs_jit: None) -> None:
    """Ten and thirty times the effort find more, over three seeds together; a single seed may find less."""
    rng = np.random.default_rng(11)
    outlines = quads(rng, 5, 3, 900_000, 450_000)
    sheet = np.array([(0, 0), (915_000, 0), (915_000, 450_000), (0, 450_000)])
    items = [SheetItem(name=f"q{k}", outline=[q]) for k, q in enumerate(outlines)]
    found = []
    for effort in (100_000, 1_000_000, 3_000_000):
        found.append(
            sum(
                nest(
                    items,
                    [Sheet(name="s", region=[sheet])],
                    goal="value",
                    gap_um=0,
                    seed=seed,
                    effort=effort,
                ).value
                for seed in range(3)
            )
        )
    assert found[0] < min(found[1:])


def test_told_to_stop_it_returns_what_it_has(needs_jit: None) -> None:
    """With the order to stop after a few questions a valid layout comes back, and says why it ended."""
    outlines = quads(np.random.default_rng(5), 4, 3, 800_000, 450_000)
    asked = []

    def stop() -> bool:
        asked.append(0)
        return len(asked) > 40

    sheet = np.array([(0, 0), (810_000, 0), (810_000, 450_000), (0, 450_000)])
    layout = nest(
        [SheetItem(name=f"q{k}", outline=[q]) for k, q in enumerate(outlines)],
        [Sheet(name="s", region=[sheet])],
        goal="value",
        gap_um=0,
        effort=10**9,
        stop=stop,
        workers=1,
    )
    assert layout.stopped == "seconds"
    assert layout.places
    assert faults(laid(layout, outlines), box(0, 0, 810_000, 450_000)) == []
