"""Edges of drawn squares in coded pictures: where they lie, and how thick wood looks."""

from __future__ import annotations

import io

import numpy as np
import pytest

pytest.importorskip("cv2")

import cv2
from PIL import Image

from nestyield.photo.edges import refined
from nestyield.photo.tones import CHROMA_PX, tones

HALF, SIZE, TURN = 90.0, 300, np.radians(17.0)
MIDDLE = (SIZE - 1) / 2 + 0.37
MAPLE, GREEN, WALNUT, LIGHT = (0.56, 0.42, 0.28), (0.05, 0.14, 0.08), (0.11, 0.064, 0.036), (0.51, 0.52, 0.53)


def own(points):
    """Places in the square's own directions, from its middle."""
    away = points - MIDDLE
    c, s = np.cos(TURN), np.sin(TURN)
    return np.column_stack([away @ (c, s), away @ (-s, c)])


def drawn(wood, ground, strip=0.0, side=None, quality=92):
    """A JPEG of a square in linear light, four samples a pixel each way, blurred, coded; with a strip on one side.

    The strip lies on the side x > 0 of the square, outside the face, in the light of ``side``.
    """
    rng, n = np.random.default_rng(4), 4
    y, x = (np.mgrid[0 : SIZE * n, 0 : SIZE * n] + 0.5) / n - 0.5
    at = own(np.column_stack([x.ravel(), y.ravel()]))
    face = (np.abs(at) < HALF).all(axis=1)
    beside = (at[:, 0] >= HALF) & (at[:, 0] < HALF + strip) & (np.abs(at[:, 1]) < HALF)

    def cover(where):
        whole = where.reshape(SIZE * n, SIZE * n).astype(np.float32)
        return cv2.resize(whole, (SIZE, SIZE), interpolation=cv2.INTER_AREA)[..., None]

    figure = cv2.GaussianBlur(rng.standard_normal((SIZE, SIZE)).astype(np.float32), (0, 0), 15, None, 1.0)
    figure = 1 + 0.09 * figure[..., None] / figure.std()
    light = np.ones((SIZE, SIZE, 1)) * np.array(ground)
    if side is not None:
        light += cover(beside) * (np.array(side) - light)
    light += cover(face) * (figure * np.array(wood) - light)
    light = cv2.GaussianBlur(light, (0, 0), 0.8)
    light += 0.008 * np.sqrt(light + 0.01) * rng.standard_normal(light.shape)
    light = np.clip(light, 0, 1)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    _, data = cv2.imencode(
        ".jpg", np.round(code * 255).astype(np.uint8)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    rgb = np.asarray(Image.open(io.BytesIO(data.tobytes())).convert("RGB"))
    t = np.arange(1 - HALF, HALF, 1.0)
    ends = np.full(len(t), HALF)
    ring = np.concatenate([np.c_[t, -ends], np.c_[ends, t], np.c_[-t, ends], np.c_[-ends, -t]])
    c, s = np.cos(TURN), np.sin(TURN)
    return tones(rgb), ring @ np.array([[c, s], [-s, c]]) + MIDDLE


def off(edge, right):
    """How far an outline lies out of the square, pixels: on its side x > 0, or on the three others."""
    at = own(edge.points)
    straight = np.abs(at).min(axis=1) < HALF - 15
    at = at[straight]
    on_right = at[:, 0] > np.abs(at[:, 1])
    return np.abs(at[on_right == right]).max(axis=1) - HALF


@pytest.mark.outside(source="a square drawn in linear light; IEC 61966-2-1, ITU-T T.81", mark="D")
@pytest.mark.parametrize(
    ("wood", "ground"), [(MAPLE, GREEN), (WALNUT, LIGHT)], ids=["light on dark", "dark on light"]
)
def test_edges_lie_where_light_is_half(wood, ground):
    """Neither tones that are not linear nor colors at half the resolution move an edge by a tenth of a pixel."""
    shown, ring = drawn(wood, ground)
    edge = refined(shown, ring, False, None, (0.85, CHROMA_PX))
    assert abs(off(edge, False).mean()) < 0.1
    assert abs(off(edge, True).mean()) < 0.1


@pytest.mark.outside(source="a square with a strip drawn in linear light", mark="D")
@pytest.mark.parametrize(("share", "ground"), [(0.45, GREEN), (0.15, (0.05, 0.052, 0.054))])
def test_the_outer_edge_of_a_strip_is_found(share, ground):
    """Where the side of the wood shows as 4 pixels in less light, the outer edge is theirs, not the face's."""
    wide = 4.0
    shown, ring = drawn(MAPLE, ground, wide, tuple(share * v for v in MAPLE))

    def side(pixels):
        along = np.array([np.cos(TURN), np.sin(TURN)])
        return np.tile(wide * along, (len(pixels), 1))

    edge = refined(shown, ring, False, side, (0.85, CHROMA_PX))
    assert abs(off(edge, True).mean() - wide) < 0.3
    assert abs(off(edge, False).mean()) < 0.15
