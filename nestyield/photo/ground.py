"""Tells wood from the ground and from paper by color; shadows change brightness, not color.

The ground is what the rim of the picture shows most of; paper is white, its ink black. Whatever has another
color is wood (or a mark on it).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestyield.photo.needs import opencv

Array = NDArray[np.float64]
Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: Light that is added before colors are compared, so that black has no color; paper is 1.
_DARK = 0.006
#: Share of the picture's shorter side that counts as its rim.
_RIM = 0.02
#: Colors nearer than this to the ground's cannot be told from it (logarithms of ratios of light).
_LEAST_APART = 0.10
#: Where, between ground and wood, a color counts as wood.
_CUT = 0.38
#: Ground so much brighter than usual is not ground.
_BRIGHTER = 2.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Parted:
    """A picture parted in wood and other.

    Parameters
    ----------
    wood : array (h, w) of bool
    apart : float
        How far the color of wood is from the nearest other, in standard deviations of the ground's color.
    """

    wood: Mask
    apart: float


def colors(light: Image, white: Array) -> tuple[Image, Image]:
    """Return the two color ratios and the brightness of linear light; white is (0, 0) and 1."""
    even = light / white.astype(np.float32) + np.float32(_DARK)
    logs = np.log(even)
    ratios = np.stack([logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]], axis=-1)
    return ratios, even.mean(axis=-1)


def part(light: Image, white: Array, least_px: float) -> Parted:
    """Find the wood of a picture.

    Parameters
    ----------
    light : array (h, w, 3)
        Linear light, small enough that noise is low.
    white : array (3,)
        Light of the paper.
    least_px : float
        Narrower things are no wood: dirt, the rim of a sheet.
    """
    cv2 = opencv()
    ratios, bright = colors(light, white)
    ground, spread, usual = _ground(ratios, bright)
    far = np.sqrt((((ratios - ground) / spread) ** 2).sum(axis=-1))
    off_white = _off_mixtures(ratios, ground)
    seeds = (
        (far > 6.0)
        & (off_white > 2.0 * _LEAST_APART)
        & (np.linalg.norm(ratios - ground, axis=-1) > 2 * _LEAST_APART)
    )
    seeds = _opened(cv2, seeds, least_px)
    if not seeds.any():
        return Parted(wood=np.zeros(seeds.shape, bool), apart=0.0)
    limit = max(_CUT * float(np.median(far[seeds])), 3.0)
    limit_white = max(_CUT * float(np.median(off_white[seeds])), _LEAST_APART)
    gap = np.linalg.norm(ratios - ground, axis=-1)
    wood = (far > limit) & (off_white > limit_white) & (gap > _LEAST_APART)
    wood |= (bright > _BRIGHTER * usual) & (off_white > limit_white)
    apart = float(np.percentile(far[seeds], 10))
    return Parted(wood=_cleaned(cv2, wood, least_px), apart=apart)


def _off_mixtures(ratios: Image, ground: Image) -> Image:
    """Return how far colors are from those between paper and ground: the rim of a sheet shows all of them."""
    share = np.clip(ratios @ ground / max(float(ground @ ground), 1e-9), 0.0, 1.0)
    return np.linalg.norm(ratios - share[..., None] * ground, axis=-1)


def _ground(ratios: Image, bright: Image) -> tuple[Image, Image, float]:
    """Return color, spread and brightness of the ground: the most frequent color of the rim."""
    h, w = bright.shape
    rim = max(2, round(_RIM * min(h, w)))
    inside = np.zeros((h, w), bool)
    inside[rim:-rim, rim:-rim] = True
    colors_, lights = ratios[~inside], bright[~inside]
    bins = 81
    counts, xs, ys = np.histogram2d(colors_[:, 0], colors_[:, 1], bins=bins, range=[[-1.6, 1.6], [-1.6, 1.6]])
    soft = opencv().GaussianBlur(counts, (0, 0), 1.5)
    i, j = np.unravel_index(int(soft.argmax()), soft.shape)
    middle = np.array([(xs[i] + xs[i + 1]) / 2, (ys[j] + ys[j + 1]) / 2])
    spread = np.array([0.08, 0.08])
    for _ in range(4):
        near = (np.abs(colors_ - middle) < 3.0 * spread).all(axis=1)
        if near.sum() < 50:
            break
        middle = np.median(colors_[near], axis=0)
        spread = np.maximum(1.4826 * np.median(np.abs(colors_[near] - middle), axis=0), 0.025)
    near = (np.abs(colors_ - middle) < 3.0 * spread).all(axis=1)
    usual = float(np.median(lights[near])) if near.any() else 1.0
    return middle.astype(np.float32), spread.astype(np.float32), usual


def _disk(cv2: Any, radius_px: float) -> Any:
    r = max(1, round(radius_px))
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))


def _opened(cv2: Any, mask: Mask, least_px: float) -> Mask:
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, _disk(cv2, least_px / 2))) > 0


def _cleaned(cv2: Any, wood: Mask, least_px: float) -> Mask:
    """Leave out what is narrow, keep the corners of what is not, fill specks."""
    r = least_px / 2
    filled = cv2.morphologyEx(wood.astype(np.uint8), cv2.MORPH_CLOSE, _disk(cv2, max(1.0, r / 3)))
    core = cv2.morphologyEx(filled, cv2.MORPH_OPEN, _disk(cv2, r))
    near = cv2.dilate(core, _disk(cv2, r / 2 + 1))
    mask = ((filled > 0) & (near > 0)).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(1 - mask, connectivity=4)
    small = [k for k in range(1, count) if stats[k, cv2.CC_STAT_AREA] < 0.8 * least_px**2]
    mask[np.isin(labels, small)] = 1
    return np.asarray(mask) > 0
