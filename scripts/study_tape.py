"""Outlines recomputed from exact distances read to 1/16 in, against the true shapes: corners, and what a measured error hides.

.venv/test/bin/python scripts/study_tape.py [--seed 1] [--shapes 300]

Shapes have 4 to 7 corners and are about 700 x 300 mm. ``sides`` gets all sides and diagonals, ``widths`` the widths at the
true corners of a piece with one straight edge, ``taper`` those of a quadrangle with two square ends. ``inside`` is the share
of shapes whose outline, made smaller by an error all round, lies wholly in the true shape.
"""

from __future__ import annotations

import argparse
import math

import numpy as np
import shapely

from nestyield.intake.tape import parse_taped

STEP_IN = 1 / 16
ERRORS_IN = (0.0, 1 / 32, 1 / 16, 3 / 32, 1 / 8, 3 / 16)


def odd_shape(rng: np.random.Generator) -> np.ndarray | None:
    """A random piece, corner 2 on the X axis; None for a bad draw."""
    n = int(rng.integers(4, 8))
    angles = np.sort(rng.uniform(0, 2 * np.pi, n))
    if np.diff([*angles, angles[0] + 2 * np.pi]).max() > 2.6 or np.diff(angles).min() < 0.3:
        return None
    points = np.column_stack([350 * np.cos(angles), 150 * np.sin(angles)]) * rng.uniform(0.7, 1.2, (n, 1))
    points = points - points[0].copy()
    a = math.atan2(points[1, 1], points[1, 0])
    points = points @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]]).T
    return points if shapely.Polygon(points).is_valid else None


def read(length_mm: float) -> str:
    return str(round(length_mm / 25.4 / STEP_IN) * STEP_IN)


def sides(rng: np.random.Generator) -> tuple[np.ndarray, str] | None:
    points = odd_shape(rng)
    if points is None:
        return None
    n = len(points)
    around = [read(math.dist(points[i], points[(i + 1) % n])) for i in range(n)]
    across = [(i, j) for i in range(n) for j in range(i + 2, n) if (i, j) != (0, n - 1)]
    diagonals = [f"{i + 1}-{j + 1} {read(math.dist(points[i], points[j]))}" for i, j in across]
    return points, f"sides {', '.join([*around, *diagonals])}"


def widths(rng: np.random.Generator) -> tuple[np.ndarray, str] | None:
    places = np.sort(rng.uniform(0, 700, int(rng.integers(3, 8))))
    if np.diff(places).min() < 20:
        return None
    wide = rng.uniform(120, 320, len(places))
    points = np.array([(places[0], 0), (places[-1], 0), *zip(places[::-1], wide[::-1])])
    return points, "widths " + ", ".join(f"{read(x)}: {read(w)}" for x, w in zip(places, wide))


def taper(rng: np.random.Generator) -> tuple[np.ndarray, str]:
    length, near, far = rng.uniform(400, 800), rng.uniform(100, 300), rng.uniform(100, 300)
    points = np.array([(0, 0), (length, 0), (length, far), (0, near)])
    return points, f"taper {read(length)}, {read(near)}, {read(far)}"


def main() -> None:
    """Print one line for each way to measure."""
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--seed", type=int, default=1)
    args.add_argument("--shapes", type=int, default=300)
    given = args.parse_args()
    print(
        "| way | shapes | corner off by, mm: half | 95 % | most | "
        + " | ".join(f"inside at {e:g} in" for e in ERRORS_IN)
        + " |"
    )
    print("|" + "---|" * (5 + len(ERRORS_IN)))
    for name, make in (("taper", taper), ("widths", widths), ("sides", sides)):
        rng = np.random.default_rng(given.seed)
        off, held = [], np.zeros(len(ERRORS_IN))
        while len(off) < given.shapes:
            drawn = make(rng)
            if drawn is None:
                continue
            points, text = drawn
            found = np.array(parse_taped(text, "in").shape.outer.points_mm)
            off.append(float(np.hypot(*(found - points).T).max()))
            true = shapely.Polygon(points).buffer(1e-6)
            held += [
                true.covers(shapely.Polygon(found).buffer(-25.4 * e, join_style="mitre")) for e in ERRORS_IN
            ]
        half, most95, most = np.quantile(off, [0.5, 0.95, 1.0])
        shares = " | ".join(f"{100 * h / len(off):.0f} %" for h in held)
        print(f"| {name} | {len(off)} | {half:.2f} | {most95:.2f} | {most:.2f} | {shares} |")


if __name__ == "__main__":
    main()
