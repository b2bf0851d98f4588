"""Outlines by tape: tapers, widths along an edge, sides and diagonals."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from nestyield.api import check_shop
from nestyield.intake.tape import TapeError, is_taped, parse_taped
from nestyield.starter import starter_files


def corners(text: str, unit: str = "in") -> list[tuple[float, float]]:
    """Corners in inches."""
    return [(x / 25.4, y / 25.4) for x, y in parse_taped(text, unit).shape.outer.points_mm]


def flat(points: list[tuple[float, float]]) -> list[float]:
    return [v for point in points for v in point]


def test_taper() -> None:
    """A straight edge on X, a width at either end, fractions and units as everywhere."""
    assert flat(corners("taper 28, 7 1/2, 5 1/4")) == pytest.approx([0, 0, 28, 0, 28, 5.25, 0, 7.5])
    assert flat(corners("Taper: 2 ft 4 in; 190.5 mm; 5-1/4")) == pytest.approx(
        [0, 0, 28, 0, 28, 5.25, 0, 7.5]
    )


def test_widths_along_an_edge() -> None:
    """Each width is a corner across from its place on the straight edge; a width of 0 ends in a point."""
    found = corners("widths 0: 7 1/2, 10: 8, 28: 6 3/4")
    assert flat(found) == pytest.approx([0, 0, 28, 0, 28, 6.75, 10, 8, 0, 7.5])
    assert flat(corners("widths 2: 5, 20: 0")) == pytest.approx([2, 0, 20, 0, 2, 5])


@pytest.mark.outside(source="Pythagoras: 3, 4, 5; a rhombus halves its diagonals at right angles", mark="D")
@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("sides 4, 3, 4, 3, 1-3 5, 2-4 5", [(0, 0), (4, 0), (4, 3), (0, 3)]),
        ("sides 4, 3, 5", [(0, 0), (4, 0), (4, 3)]),
        ("sides 5, 5, 5, 5, 1-3 8, 2-4 6", [(0, 0), (5, 0), (6.4, 4.8), (1.4, 4.8)]),
    ],
)
def test_sides_and_diagonals(text: str, found: list[tuple[float, float]]) -> None:
    """Triangles and quadrangles whose corners are known."""
    assert flat(corners(text)) == pytest.approx(flat(found), abs=1e-6)


def odd_shape(rng: np.random.Generator) -> np.ndarray | None:
    """A random piece of 4 to 7 corners, about 700 x 300 mm, corner 2 on the X axis; None for a bad draw."""
    n = int(rng.integers(4, 8))
    angles = np.sort(rng.uniform(0, 2 * np.pi, n))
    if np.diff([*angles, angles[0] + 2 * np.pi]).max() > 2.6 or np.diff(angles).min() < 0.3:
        return None
    points = np.column_stack([350 * np.cos(angles), 150 * np.sin(angles)]) * rng.uniform(0.7, 1.2, (n, 1))
    points = points - points[0].copy()
    a = math.atan2(points[1, 1], points[1, 0])
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    points = points @ turn.T
    return points if shapely.Polygon(points).is_valid else None


def distances(points: np.ndarray, step_in: float) -> str:
    """All sides and diagonals, read to a step of the tape."""
    n = len(points)

    def read(i: int, j: int) -> float:
        return round(math.dist(points[i], points[j]) / 25.4 / step_in) * step_in

    sides = [str(read(i, (i + 1) % n)) for i in range(n)]
    across = [(i, j) for i in range(n) for j in range(i + 2, n) if (i, j) != (0, n - 1)]
    return f"sides {', '.join([*sides, *(f'{i + 1}-{j + 1} {read(i, j)}' for i, j in across)])}"


@pytest.mark.parametrize(("step_in", "most_mm", "half_mm"), [(1e-6, 0.01, 0.001), (1 / 16, 6.0, 1.6)])
@pytest.mark.outside(source="the true shapes, from which the distances are computed", mark="D")
def test_outlines_come_back_from_their_distances(step_in: float, most_mm: float, half_mm: float) -> None:
    """Exact distances give the shape back; read to 1/16 in, half of the shapes within 1/16 in at every corner."""
    rng = np.random.default_rng(1)
    shapes = [s for _ in range(240) if (s := odd_shape(rng)) is not None]
    assert len(shapes) >= 25
    off = []
    for points in shapes:
        taped = parse_taped(distances(points, step_in), "in")
        found = np.array(taped.shape.outer.points_mm)
        off.append(float(np.hypot(*(found - points).T).max()))
        assert taped.off_mm is not None
        assert taped.off_mm < 25.4 * max(step_in, 1e-5)
    assert max(off) < most_mm
    assert float(np.median(off)) < half_mm


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("taper 28, 7", "add the width at the far end, such as taper 28, 7, 5.6"),
        ("taper 28, 7, wide", "write taper 28"),
        ("taper 28, 0, 5", "above 0"),
        ("widths 3 4", "place: width"),
        ("widths 0: 3", "at least 2 places"),
        ("widths 5: 3, 2: 4", "farther along"),
        ("sides 4, 3", "3 to 12 sides"),
        ("sides 4, 3, 4, 3", "measure across, 1-3, and add it, such as sides 4, 3, 4, 3, 1-3 5$"),
        ("sides 4, 3, 4, 3, 1-2 4", "that are no sides, got 1-2"),
        ("sides 4, 3, 4, 3, 1-9 4", "corners 1 to 4"),
        ("sides 4, 3, 4, 3, 1-3 5, 6", "all sides before"),
        (
            "sides 4, 3, 4, 3, 1-3 50",
            r"1-3 \(50 in\) is longer than the sides allow \(7 in at most\); measure 1-3 again",
        ),
        (
            "sides 4, 3, 4, 3, 1-3 5, 2-4 9",
            "2-4 .9 in. is longer than the sides allow .7 in at most.; measure 2-4 again",
        ),
    ],
)
def test_measures_that_make_no_shape(text: str, told: str) -> None:
    """Each is refused with what to write or to measure again."""
    assert is_taped(text)
    with pytest.raises(TapeError, match=told):
        parse_taped(text, "in")


@pytest.mark.parametrize(
    ("cell", "severity", "told"),
    [
        ("taper 27 1/2, 8 1/4, 6 3/4", None, ""),
        ("sides 27 1/2, 6 3/4, 27 1/2, 8 1/4, 1-3 28 3/8, 2-4 28 5/8", "note", "go together within"),
        ("sides 27 1/2, 6 3/4, 27 1/2, 8 1/4, 1-3 28 3/8, 2-4 29", "warning", "again"),
        ("sides 27 1/2, 6 3/4, 27 1/2, 8 1/4", "error", "measure across, 1-3"),
    ],
)
def test_in_the_rack(cell: str, severity: str | None, told: str, tmp_path: Path) -> None:
    """The outline column takes them; how well the distances agree is told with the row."""
    for name, data in starter_files("in").items():
        text = (
            data.replace(b"POLYGON ((0 0, 27.5 0, 26 6.75, 0 8.25))", cell.encode())
            if name == "rack.csv"
            else data
        )
        (tmp_path / name).write_bytes(text)
    shop, findings = check_shop(tmp_path)
    assert [f.severity for f in findings] == ([severity] if severity else [])
    assert (shop is None) == (severity == "error")
    if severity:
        (finding,) = findings
        assert told in finding.message
        assert finding.where == "row 6, column outline_in"
    if shop is not None:
        assert shop.piece("B-3").shape.area_mm2 == pytest.approx(27.5 * (8.25 + 6.75) / 2 * 25.4**2, rel=0.02)
