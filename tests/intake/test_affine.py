"""Maps of block content."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestyield.intake.affine import Affine
from nestyield.intake.sampling import CHECK_CHORD_MM, sampled
from nestyield.model import Outline


def matrix(a: Affine) -> np.ndarray:
    return np.array(
        [[a.xx, a.xy, 0, a.x0], [a.yx, a.yy, 0, a.y0], [0, 0, a.zz, a.z0], [0, 0, 0, 1]], dtype=np.float64
    )


def random_map(rng: np.random.Generator) -> Affine:
    return (
        Affine.shift(*rng.uniform(-50, 50, 3))
        @ Affine.turn(float(rng.uniform(-400, 400)))
        @ Affine.scale(*(rng.uniform(0.3, 3, 3) * rng.choice([-1, 1], 3)))
    )


def test_composition_is_the_product_of_matrices() -> None:
    """Composed maps act as the product of their matrices, on points and heights."""
    rng = np.random.default_rng(1)
    for _ in range(50):
        a, b = random_map(rng), random_map(rng) @ Affine.behind()
        assert matrix(a @ b) == pytest.approx(matrix(a) @ matrix(b), abs=1e-9)
        x, y, z = rng.uniform(-9, 9, 3)
        moved = matrix(a @ b) @ [x, y, z, 1]
        assert (*(a @ b).point(x, y), (a @ b).height(z)) == pytest.approx(moved[:3])
        assert (a @ b).determinant == pytest.approx(np.linalg.det(matrix(a @ b)[:2, :2]))


def test_quarter_turns_are_exact() -> None:
    """Turns by 90 degrees leave no rounding."""
    assert Affine.turn(90).vector(1, 0) == (0, 1)
    assert Affine.turn(-90).vector(1, 0) == (0, -1)
    assert Affine.turn(180).vector(3, 4) == (-3, -4)
    assert Affine.turn(450) == Affine.turn(90)


def test_similarity() -> None:
    """Turned, mirrored and evenly scaled maps keep circles; stretched and slanted ones do not."""
    even = Affine.turn(33) @ Affine.scale(-2.5, 2.5)
    assert even.is_similar
    assert (Affine.behind() @ even).is_similar
    assert not Affine.scale(2, 2.001).is_similar
    assert not (Affine.scale(1, 2) @ Affine.turn(45) @ Affine.scale(1, 0.5)).is_similar


@pytest.mark.outside(source="shapely.affinity.affine_transform (general geometry library)", mark="S")
def test_nested_inserts_that_slant(new: Any, read: Any) -> None:
    """An unevenly scaled block in an unevenly scaled and turned block lies where matrices put it.

    Such content is slanted, which no single insert can express.
    """
    rng = np.random.default_rng(0)
    corners = [(30 * math.cos(a), 30 * math.sin(a)) for a in np.radians([10, 95, 140, 230, 300])]
    bulges = [0.3, -0.2, 0.4, 0.0, 0.15]
    plain = sampled(Outline(points_mm=tuple(corners), bulges=tuple(bulges)))
    for _ in range(25):
        doc, space = new()
        base = rng.uniform(-5, 5, 2)
        inner = doc.blocks.new("INNER", base_point=(*base, 0))
        rows = [(x, y, b) for (x, y), b in zip(corners, bulges)]
        inner.add_lwpolyline(rows, format="xyb", close=True)
        total = Affine.shift(-base[0], -base[1])
        outer = doc.blocks.new("OUTER")
        for place, name in ((outer, "INNER"), (space, "OUTER")):
            sx, sy = rng.uniform(0.4, 2, 2) * rng.choice([-1, 1], 2)
            turn, at, behind = rng.uniform(0, 360), rng.uniform(-50, 50, 2), bool(rng.random() < 0.3)
            attribs = {"layer": "BODY", "xscale": sx, "yscale": sy, "rotation": turn}
            if behind:
                attribs["extrusion"] = (0, 0, -1)
            place.add_blockref(name, tuple(at), dxfattribs=attribs)
            total = Affine.shift(*at) @ Affine.turn(turn) @ Affine.scale(sx, sy) @ total
            total = Affine.behind() @ total if behind else total
        t = total
        expected = affinity.affine_transform(plain, [t.xx, t.xy, t.yx, t.yy, t.x0, t.y0])
        (closed,) = read(doc).closed["BODY"]
        apart = shapely.hausdorff_distance(closed.polygon.boundary, expected.boundary, densify=0.2)
        assert apart < 5 * CHECK_CHORD_MM + 0.001


def test_arrays_and_heights(new: Any, read: Any) -> None:
    """Rows and columns are spaced in the insert's turned axes, unscaled; heights add up."""
    doc, space = new()
    doc.blocks.new("DOT").add_circle((0, 0, 2), 1)
    space.add_blockref(
        "DOT",
        (10, 20, 5),
        dxfattribs={
            "layer": "BODY",
            "rotation": 90,
            "xscale": 2,
            "yscale": 2,
            "zscale": 3,
            "column_count": 2,
            "row_count": 2,
            "column_spacing": 30,
            "row_spacing": 40,
        },
    )
    result = read(doc)
    middles = sorted(
        (round(c.polygon.centroid.x, 3), round(c.polygon.centroid.y, 3)) for c in result.closed["BODY"]
    )
    assert middles == [(-30, 20), (-30, 50), (10, 20), (10, 50)]
    assert "z 11" in result.findings[0].message


def test_insert_in_another_plane_or_without_size(new: Any, read: Any) -> None:
    """An insert on edge is an error that names it."""
    doc, space = new()
    doc.blocks.new("DOT").add_circle((0, 0), 1)
    insert = space.add_blockref("DOT", (0, 0), dxfattribs={"layer": "BODY", "extrusion": (1, 0, 0)})
    finding = read(doc).one("D015")
    assert insert.dxf.handle in finding.where
