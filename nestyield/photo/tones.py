"""A picture as one brightness and two colors, so that edges lie where they do in linear light.

In a JPEG brightness has the full resolution and colors often half of it (ITU-T T.81, JFIF: 4:2:0), both of coded
values, which are not linear. Half way between two coded values is not half way between two lights: an edge read
so moves into the brighter side. Here brightness is decoded again, and what a color is at an edge is worked out
through the curve and the coarser grid.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Brightness of coded red, green and blue (ITU-R BT.601, as JFIF takes them).
_LUMA = np.array([0.299, 0.587, 0.114])
#: What blue and red less brightness are divided by in JFIF, so that colors run from -0.5 to 0.5.
_CB, _CR = 1.772, 1.402
#: Spread of a color across an edge by 4:2:0: the mean of two pixels, and straight lines between means, px.
CHROMA_PX = 1.5
#: Places and weights that stand for that spread (Gauss-Hermite, five).
_NODES = np.array([-2.85697001, -1.35562618, 0.0, 1.35562618, 2.85697001])
_WEIGHTS = np.array([0.01125741, 0.22207592, 0.53333333, 0.22207592, 0.01125741])
#: Where half way lies is not believed beyond this.
_FARTHEST = 0.2


def coded(light: Array) -> Array:
    """Return the coded value of linear light, 0 to 1 (IEC 61966-2-1)."""
    v = np.clip(light, 0.0, 1.0)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.power(v, 1 / 2.4) - 0.055)


def decoded(value: Array) -> Array:
    """Return linear light of a coded value, 0 to 1."""
    v = np.clip(value, 0.0, 1.0)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def tones(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return brightness, decoded, and the two colors, coded; array (h, w, 3) of uint8 to float32."""
    value = rgb.astype(np.float32) / np.float32(255.0)
    luma = value @ _LUMA.astype(np.float32)
    out = np.empty(value.shape, np.float32)
    out[..., 0] = np.where(luma <= 0.04045, luma / 12.92, ((luma + 0.055) / 1.055) ** 2.4)
    out[..., 1] = (value[..., 2] - luma) / _CB
    out[..., 2] = (value[..., 0] - luma) / _CR
    return out


def half_way(inside: Array, outside: Array, axis: Array, blur_px: float, chroma_px: float) -> Array:
    """Return where, along an axis of tones, an edge between two surfaces lies: 0.5 where all is linear.

    Parameters
    ----------
    inside, outside : array (n, 3)
        Tones of the two surfaces.
    axis : array (n, 3)
        Along which tones are looked at.
    blur_px, chroma_px : float
        Standard deviation of the blur in light, and of what colors are spread by besides; 0 for none.

    Returns
    -------
    array (n,)
        Of the way from outside to inside.
    """
    one, other = _light(inside), _light(outside)
    middle = _tones(0.5 * (one + other))
    if chroma_px > 0:
        share = _normal(_NODES * chroma_px / max(blur_px, 1e-3))
        middle[:, 1:] = sum(
            w * _tones(s * one + (1 - s) * other)[:, 1:] for s, w in zip(share, _WEIGHTS, strict=True)
        )
    whole = ((inside - outside) * axis).sum(axis=1)
    part = ((middle - outside) * axis).sum(axis=1) / np.where(np.abs(whole) < 1e-12, 1.0, whole)
    return np.clip(part, _FARTHEST, 1.0 - _FARTHEST)


def in_less_light(values: Array, share: float) -> tuple[Array, Array]:
    """Return tones of a surface in less light, and by what they change with the share of light; (n, 3) each."""
    light = _light(values)
    return _tones(share * light), (_tones((share + 0.05) * light) - _tones((share - 0.05) * light)) / 0.1


def level(share: Array, half: Array) -> Array:
    """Return how far between outside and inside light is, of how far tones are; ``half`` goes to 0.5."""
    h = half[:, None]
    bottom = share * (1 - 2 * h) + h
    return np.where(bottom > 1e-6, share * (1 - h) / np.maximum(bottom, 1e-6), np.sign(share) * 2.0)


def _light(values: Array) -> Array:
    """Return linear light of tones, array (n, 3) to (n, 3)."""
    luma = coded(values[:, 0])
    blue, red = luma + _CB * values[:, 1], luma + _CR * values[:, 2]
    green = (luma - _LUMA[0] * red - _LUMA[2] * blue) / _LUMA[1]
    return decoded(np.column_stack([red, green, blue]))


def _tones(light: Array) -> Array:
    """Return tones of linear light, array (n, 3) to (n, 3)."""
    value = coded(light)
    luma = value @ _LUMA
    return np.column_stack([decoded(luma), (value[:, 2] - luma) / _CB, (value[:, 0] - luma) / _CR])


def _normal(x: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(x))
