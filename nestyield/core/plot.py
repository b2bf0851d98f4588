"""A picture of a blank with its parts, by matplotlib."""

from __future__ import annotations

from typing import Any

import shapely

from nestyield.core.laid import Laid
from nestyield.model import NestyieldError


def plot(laid: Laid, ax: Any = None) -> Any:
    """Draw a blank: wood, defects, parts with their zones, seams, leftovers.

    Parameters
    ----------
    laid : Laid
    ax : matplotlib axes, optional
        New ones when left out.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    NestyieldError
        When matplotlib is not installed.
    """
    try:
        import matplotlib.pyplot as plt
    except ImportError as e:
        raise NestyieldError("plot needs matplotlib: pip install matplotlib") from e
    if ax is None:
        _, ax = plt.subplots(figsize=(9, 6), layout="constrained")
    _fill(ax, laid.wood, facecolor="#f0e2c8", edgecolor="#7a5c2e", linewidth=1.2, zorder=1)
    for left in laid.leftovers:
        _fill(ax, left, facecolor="none", edgecolor="#7a5c2e", linestyle=":", linewidth=1.0, zorder=2)
    for _, polygon in laid.defects:
        _fill(ax, polygon, facecolor="#b0603a", edgecolor="#6b3018", hatch="xxx", linewidth=0.8, zorder=5)
    for (part, _), outline, zones in zip(laid.placed, laid.outlines, laid.zones):
        _fill(ax, outline, facecolor="#9fc3d9", edgecolor="#1f4e66", linewidth=1.4, alpha=0.85, zorder=3)
        for _, polygon in zones:
            _fill(ax, polygon, facecolor="none", edgecolor="#1f4e66", linewidth=0.8, linestyle="--", zorder=4)
        at = outline.representative_point()
        ax.annotate(part.name, (at.x, at.y), ha="center", va="center", fontsize=9, zorder=6)
    for seam in laid.seams:
        ax.plot(*seam.xy, color="#c02020", linewidth=1.4, zorder=5)
    ax.set_aspect("equal")
    ax.margins(0.04)
    ax.set_xlabel("mm")
    ax.set_ylabel("mm")
    ax.set_title(f"{laid.blank.name}: {laid.blank.species}, {laid.blank.thickness_mm:g} mm")
    return ax


def _fill(ax: Any, polygon: Any, **style: Any) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    whole = shapely.orient_polygons(polygon)
    rings = [shapely.get_coordinates(r) for r in (whole.exterior, *whole.interiors)]
    ax.add_patch(PathPatch(Path.make_compound_path(*(Path(r, closed=True) for r in rings)), **style))
    ax.update_datalim(rings[0])
