"""What the samples show (fixtures/make_photos.py), and how outlines are compared with it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

pytest.importorskip("cv2")

SAMPLES = Path(__file__).parent / "samples"
TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))


def true_shape(told: dict) -> shapely.Polygon:
    """The outline that was drawn, on the ground of the scene."""
    return shapely.Polygon(told["outer"], told["holes"])


def around(ring: shapely.LinearRing) -> np.ndarray:
    return shapely.get_coordinates(ring.interpolate(np.arange(0, ring.length, 1.0)))


def laid_on(shape: shapely.Polygon, truth: shapely.Polygon):
    """The rigid motion that lays an outline on the true one (nearest points, least squares, repeated).

    The first position is that of the long sides of both, either way round: no position is given away.
    """
    points, best = around(shape.exterior), None
    for turn in (0.0, np.pi):
        angle = _lying(truth) - _lying(shape) + turn
        middle, to = points.mean(axis=0), around(truth.exterior).mean(axis=0)
        for _ in range(100):
            moved = (points - middle) @ _turn(angle) + to
            near = shapely.get_coordinates(
                truth.exterior.interpolate(truth.exterior.project(shapely.points(moved)))
            )
            p, q = moved - moved.mean(axis=0), near - near.mean(axis=0)
            step = np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum())
            to = (to - moved.mean(axis=0)) @ _turn(step) + near.mean(axis=0)
            angle += step
        off = np.hypot(*(moved - near).T).mean()
        if best is None or off < best[0]:
            best = (off, angle, to)
    _, angle, to = best
    return np.degrees(angle), lambda g: shapely.transform(g, lambda p: (p - middle) @ _turn(angle) + to)


def _turn(a: float) -> np.ndarray:
    return np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])


def _lying(shape: shapely.Polygon) -> float:
    box = shapely.get_coordinates(shapely.oriented_envelope(shape))[:3]
    side = max(np.diff(box, axis=0), key=lambda v: np.hypot(*v))
    return float(np.arctan2(side[1], side[0]))


def off_at_95(shape: shapely.Polygon, truth: shapely.Polygon) -> float:
    """Distance from the true edge that 95 % of an outline keeps, mm."""
    return float(np.percentile(shapely.distance(truth.boundary, shapely.points(around(shape.exterior))), 95))
