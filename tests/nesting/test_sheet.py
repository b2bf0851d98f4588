"""Sheets and offcuts: gaps, feasible regions, goals."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from nestyield.geometry.minkowski import inner_fit_region
from nestyield.model import ModelError
from nestyield.model.pose import Pose
from nestyield.nesting.sheet import Sheet, SheetItem, SheetPlace, nest, prepare

GAP = 6000


def _poly(*points):
    return [np.array(points, dtype=np.int64) * 1000]


HOOK = _poly((0, 0), (120, 0), (150, 60), (120, 120), (60, 90), (0, 120))
WEDGE = _poly((0, 0), (80, 0), (0, 60))
OFFCUT = [
    *_poly((0, 0), (600, 0), (600, 200), (250, 200), (250, 500), (0, 500)),
    *_poly((100, 100), (100, 150), (150, 150), (150, 100)),
]
BOARD = _poly((0, 0), (400, 0), (400, 300), (0, 300))
TURNS = ((0.0, False), (90.0, False), (180.0, True), (30.0, False))


def _check(items, sheets, layout, gap=GAP):
    regions = [Polygon(s.region[0], s.region[1:]) for s in sheets]
    shapes = [(p.sheet, Polygon(Pose.of(p).on_grid(items[p.item].outline)[0])) for p in layout.places]
    for i, (b, shape) in enumerate(shapes):
        assert shape.difference(regions[b]).area < 1.0
        for c, other in shapes[:i]:
            if b == c:
                assert shape.distance(other) >= gap - 1
    for k, it in enumerate(items):
        assert sum(p.item == k for p in layout.places) + layout.left[k] == it.count


def _items(hooks, wedges):
    return [
        SheetItem(name="hook", outline=HOOK, count=hooks, orientations=TURNS),
        SheetItem(name="wedge", outline=WEDGE, count=wedges, orientations=TURNS),
    ]


@pytest.mark.parametrize("goal", ["value", "sheets", "length"])
def test_offcut_with_a_hole(goal, jit):
    """Guards gap, hole and notch for every goal."""
    items, sheets = _items(4, 5), [Sheet(name="offcut", region=OFFCUT), Sheet(name="board", region=BOARD)]
    layout = nest(items, sheets, goal=goal, gap_um=GAP, effort=400_000 if jit else 3_000)
    _check(items, sheets, layout)
    if jit:
        assert layout.left == (0, 0)
        assert layout.sheets_used == 1


def test_more_than_fits_leaves_the_least_value(jit):
    """Guards that dear parts go first, and that what does not fit is counted."""
    items = [
        SheetItem(name="dear", outline=HOOK, count=3, orientations=TURNS, value=100.0),
        SheetItem(name="cheap", outline=HOOK, count=30, orientations=TURNS, value=1.0),
    ]
    sheets = [Sheet(name="board", region=BOARD)]
    layout = nest(items, sheets, goal="value", gap_um=GAP, effort=400_000 if jit else 3_000)
    _check(items, sheets, layout)
    assert layout.left[0] == 0
    assert layout.left[1] > 0
    assert layout.value <= layout.bound


def test_feasible_regions_are_kept(jit):
    """Guards stock with defects: a part stays where the caller says."""
    corner = _poly((0, 0), (152, 0), (152, 132), (0, 132))

    def shifts(item, orientation, sheet):
        where = corner if item == 0 else BOARD
        return inner_fit_region(
            where, Pose(angle_deg=orientation[0], mirrored=orientation[1]).on_grid([HOOK, WEDGE][item])
        )

    items, sheets = _items(1, 4), [Sheet(name="board", region=BOARD)]
    layout = nest(
        items, sheets, goal="value", gap_um=GAP, feasible_shifts=shifts, effort=300_000 if jit else 3_000
    )
    _check(items, sheets, layout)
    hooks = [p for p in layout.places if p.item == 0]
    assert hooks
    for p in hooks:
        shape = Polygon(Pose.of(p).on_grid(HOOK)[0])
        assert Polygon(corner[0]).buffer(2).contains(shape)


def test_same_layout_with_any_number_of_workers(jit):
    """Guards that threads only share the work."""
    items, sheets = _items(5, 6), [Sheet(name="board", region=BOARD)]
    effort = 300_000 if jit else 3_000
    a, b = (nest(items, sheets, goal="length", gap_um=GAP, seed=7, effort=effort, workers=k) for k in (1, 2))
    assert a == b


def test_parts_that_never_fit_are_left():
    """Guards sheets smaller than a part."""
    items, sheets = _items(2, 0), [Sheet(name="scrap", region=_poly((0, 0), (50, 0), (50, 50), (0, 50)))]
    layout = nest(items, sheets, goal="value", gap_um=GAP, effort=2_000)
    assert layout.left == (2, 0)
    assert layout.places == ()


def test_mistakes_are_named():
    """Guards the messages."""
    with pytest.raises(ModelError, match="at least one item"):
        nest([], [], goal="value", gap_um=0)
    with pytest.raises(ModelError, match="gap_um"):
        nest(_items(1, 1), [Sheet(name="b", region=BOARD)], goal="value", gap_um=-1)


@pytest.mark.parametrize("seed", range(6))
def test_what_a_search_finds_lies_on_the_piece_at_its_slanting_end(seed, jit):
    """A layout that a search calls clear lies on the piece, also where its end slants and its box does not."""
    piece = np.array([[0, 0], [500_000, 0], [240_000, 300_000], [0, 300_000]])
    kite = np.array([[0, 0], [120_000, 20_000], [200_000, 110_000], [60_000, 150_000]])
    items = [
        SheetItem(name="kite", outline=[kite], count=3, orientations=tuple((a, False) for a in (0.0, 90.0)))
    ]
    job = prepare(items, [Sheet(name="offcut", region=[piece])], GAP, None)
    found = job.packer(np.random.default_rng(seed)).pack([0, 0, 0], [0], 200_000)
    assert found is not None
    for s, (x, y) in zip(found.shape, found.pos):
        laid = Polygon(job.shapes[int(s)].rings[0] + np.array([x, y]))
        assert Polygon(piece).buffer(1.0).covers(laid), (s, x, y)


@pytest.mark.parametrize("seed", range(3))
def test_more_parts_than_were_laid_go_on_a_piece_with_a_slanting_end(seed, jit):
    """A part is added to a piece with a slanting end from beyond that end, and all lie on the piece."""
    piece = np.array([[0, 0], [500_000, 0], [300_000, 300_000], [0, 300_000]])
    block = np.array([[0, 0], [140_000, 0], [140_000, 140_000], [0, 140_000]])
    items = [SheetItem(name="block", outline=[block], count=4)]
    layout = nest(items, [Sheet(name="offcut", region=[piece])], goal="value", gap_um=GAP, seed=seed)
    assert layout.left == (0,)
    for place in layout.places:
        laid = Polygon(block + np.array([place.x_um, place.y_um]))
        assert Polygon(piece).covers(laid)


def test_parts_rest_on_one_another(jit):
    """Four parts of 300 x 210 pushed to one end of a wide sheet lie two by two, with no more than the gap between."""
    block = np.array([[0, 0], [300_000, 0], [300_000, 210_000], [0, 210_000]])
    sheet = np.array([[0, 0], [900_000, 0], [900_000, 480_000], [0, 480_000]])
    layout = nest(
        [SheetItem(name="block", outline=[block], count=4)],
        [Sheet(name="sheet", region=[sheet])],
        goal="length",
        gap_um=GAP,
        effort=200_000 if jit else 4_000,
    )
    assert layout.left == (0,)
    places = sorted((p.x_um, p.y_um) for p in layout.places)
    near = [(0, 0), (0, 210_000 + GAP), (300_000 + GAP, 0), (300_000 + GAP, 210_000 + GAP)]
    assert np.abs(np.array(places) - near).max() <= 10


def test_pushing_begins_with_what_lies_there(jit):
    """By hand: twelve bars, eleven as close as they go and one 40 mm off, take 458 of 470 mm."""
    bar = SheetItem(name="bar", outline=_poly((0, 0), (100, 0), (100, 45), (0, 45)), count=12)
    sheet = Sheet(name="s", region=_poly((0, 0), (470, 0), (470, 147), (0, 147)))
    laid = [(106_000 * (k // 3), 51_000 * (k % 3)) for k in range(11)] + [(358_000, 102_000)]
    begun = [
        SheetPlace(item=0, copy=k + 1, sheet=0, angle_deg=0.0, mirrored=False, x_um=x, y_um=y)
        for k, (x, y) in enumerate(laid)
    ]
    layout = nest([bar], [sheet], goal="length", gap_um=GAP, effort=1_000, begun=begun)
    _check([bar], [sheet], layout)
    assert layout.left == (0,)
    assert layout.used_length_um[0] <= 458_000
    near = [
        *begun[:-1],
        SheetPlace(**{f: getattr(begun[-1], f) for f in begun[-1].__slots__} | {"x_um": 200_000}),
    ]
    again = nest([bar], [sheet], goal="length", gap_um=GAP, effort=1_000, begun=near)
    _check([bar], [sheet], again)
    assert layout.evaluations < again.evaluations  # one overlaps: all are laid anew
