"""Renders photos of wood on the ground beside marker sheets, for tests and studies of ``nestyield photo``.

Shares no code with the reader: own camera, own light, own shapes. Of the program it uses the printed sheet only,
as a picture of its PDF (pdftoppm). Lengths in millimeters; x right, y up, z toward the camera.
"""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np
import shapely

SHEET_DPI = 300
#: From the left and top edge of the page to the field of markers, mm; the field is 148 high.
FIELD_LEFT, FIELD_TOP, FIELD_HIGH = 15.0, 12.0, 148.0


@dataclass(frozen=True)
class Wood:
    """A piece: outline and holes (mm, piece coordinates), where it lies, thickness, color, grain."""

    outer: list
    holes: list = field(default_factory=list)
    at: tuple = (0.0, 0.0, 0.0)  # x, y, degrees
    thickness: float = 20.0
    color: tuple = (0.42, 0.25, 0.12)  # linear light
    grain_deg: float = 0.0
    figure: float = 0.25
    marks: list = field(default_factory=list)  # (x, y, radius, linear color)

    def world(self, ring):
        x, y, deg = self.at
        c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        return np.asarray(ring, float) @ np.array([[c, s], [-s, c]]) + (x, y)


@dataclass(frozen=True)
class Shot:
    """Camera and light."""

    size: tuple = (3264, 2448)
    focal: float = 2600.0
    center_off: tuple = (0.0, 0.0)
    k1: float = 0.0
    k2: float = 0.0
    eye: tuple = (0.0, 0.0, 1000.0)
    look: tuple = (0.0, 0.0)
    roll_deg: float = 0.0
    blur: float = 0.8
    noise: float = 1.0
    light: tuple = (0.3, 0.2)  # shadow of 1 mm height, mm
    shadow: float = 0.45
    penumbra: float = 4.0
    ground: tuple = (0.25, 0.27, 0.29)
    ground_kind: str = "plain"
    exposure: float = 0.85
    quality: int = 92
    tint: tuple = (1.0, 1.0, 1.0)


def sheet_picture(pdf: bytes, page: int) -> np.ndarray:
    """Return a page of the sheets' PDF as light, 0 to 1."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "s.pdf").write_bytes(pdf)
        subprocess.run(
            ["pdftoppm", "-r", str(SHEET_DPI), "-f", str(page), "-l", str(page), "-gray", "-singlefile", "s.pdf", "s"],
            cwd=folder, check=True, capture_output=True,
        )  # fmt: skip
        picture = cv2.imread(str(Path(folder) / "s.pgm"), cv2.IMREAD_GRAYSCALE)
    return (picture.astype(np.float32) / 255.0) * 0.82 + 0.035


class Eye:
    """A pinhole with Brown distortion; written for the renderer only."""

    def __init__(self, shot: Shot) -> None:
        self.s = shot
        e, t = np.array(shot.eye, float), np.array([*shot.look, 0.0])
        ahead = (t - e) / np.linalg.norm(t - e)
        up = np.array([0.0, 1.0, 0.0])
        right = np.cross(ahead, up)
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        a = np.radians(shot.roll_deg)
        self.rows = np.array(
            [np.cos(a) * right + np.sin(a) * down, -np.sin(a) * right + np.cos(a) * down, ahead]
        )
        self.e = e
        w, h = shot.size
        self.c = np.array([(w - 1) / 2 + shot.center_off[0], (h - 1) / 2 + shot.center_off[1]])

    def see(self, xyz: np.ndarray) -> np.ndarray:
        q = (np.asarray(xyz, float) - self.e) @ self.rows.T
        a, b = q[:, 0] / q[:, 2], q[:, 1] / q[:, 2]
        r = a * a + b * b
        m = 1 + self.s.k1 * r + self.s.k2 * r * r
        return np.column_stack([a * m, b * m]) * self.s.focal + self.c

    def rays(self) -> np.ndarray:
        w, h = self.s.size
        u, v = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
        a0, b0 = (
            (u - np.float32(self.c[0])) / np.float32(self.s.focal),
            (v - np.float32(self.c[1])) / np.float32(self.s.focal),
        )
        a, b = a0.copy(), b0.copy()
        for _ in range(8):
            r = a * a + b * b
            m = 1 + self.s.k1 * r + self.s.k2 * r * r
            a, b = a0 / m, b0 / m
        R = self.rows.astype(np.float32)
        return np.stack([a * R[0, k] + b * R[1, k] + R[2, k] for k in range(3)], axis=-1)

    def plane(self, rays: np.ndarray, z: float) -> tuple:
        t = np.float32(z - self.e[2]) / rays[..., 2]
        return np.float32(self.e[0]) + t * rays[..., 0], np.float32(self.e[1]) + t * rays[..., 1]


def dense(ring: np.ndarray, step: float = 1.5) -> np.ndarray:
    out = []
    for p, q in zip(ring, np.roll(ring, -1, axis=0)):
        n = max(1, int(np.ceil(np.hypot(*(q - p)) / step)))
        out.append(p + (q - p) * (np.arange(n) / n)[:, None])
    return np.concatenate(out)


def _cover(shot: Shot, polygons: list) -> np.ndarray:
    """Return how much of each pixel polygons cover, 4 x 4 samples a pixel."""
    w, h = shot.size
    n = 4
    if not polygons:
        return np.zeros((h, w), np.float32)
    every = np.concatenate(polygons)
    x0, y0 = np.maximum(np.floor(every.min(axis=0)).astype(int) - 2, 0)
    x1, y1 = np.minimum(np.ceil(every.max(axis=0)).astype(int) + 3, (w, h))
    out = np.zeros((h, w), np.float32)
    if x1 <= x0 or y1 <= y0:
        return out
    big = np.zeros(((y1 - y0) * n, (x1 - x0) * n), np.uint8)
    fixed = [np.round(((p - (x0, y0) + 0.5) * n - 0.5) * 256).astype(np.int32) for p in polygons]
    # fillPoly fills its own border too: half of it is taken away again, so that areas come out true
    cv2.fillPoly(big, fixed, 255, shift=8)
    cv2.polylines(big, fixed, True, 128, shift=8)
    out[y0:y1, x0:x1] = (
        cv2.resize(big, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    )
    return out


def _swept(low: list, high: list) -> list:
    """Return the outlines of all that lies between two outlines as they move over each other."""
    rings = [shapely.Polygon(r[0], r[1:]).buffer(0) for r in (low, high)]
    quads = [
        q if q.is_valid else q.buffer(0)
        for q in shapely.polygons(np.array(_quads(low, high)))
        if q.area > 1e-6
    ]
    parts = shapely.get_parts(shapely.unary_union([*rings, *quads]))
    return [
        shapely.get_coordinates(r)
        for p in parts
        if p.geom_type == "Polygon"
        for r in (p.exterior, *p.interiors)
    ]


def _quads(low: list, high: list) -> list:
    out = []
    for a, b in zip(low, high):
        an, bn = np.roll(a, -1, axis=0), np.roll(b, -1, axis=0)
        out += [np.array(q) for q in zip(a, an, bn, b)]
    return out


def _noise(rng, shape, scale):
    small = rng.standard_normal((int(shape[0] / scale) + 3, int(shape[1] / scale) + 3)).astype(np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def wood_tile(rng, figure: float) -> np.ndarray:
    """Return wood of 0.25 mm a pixel, 1024 x 1024, grain along x, mean 1."""
    n = 1024
    lines = cv2.GaussianBlur(rng.standard_normal((n, n)).astype(np.float32), (0, 0), sigmaX=90, sigmaY=1.2)
    broad = cv2.GaussianBlur(rng.standard_normal((n, n)).astype(np.float32), (0, 0), sigmaX=160, sigmaY=14)
    pores = cv2.GaussianBlur((rng.random((n, n)) < 0.004).astype(np.float32), (0, 0), sigmaX=8, sigmaY=0.8)
    t = 0.6 * lines / lines.std() + 0.7 * broad / broad.std() - 0.5 * pores / pores.std()
    return np.clip(1 + figure * 0.35 * t, 0.25, 1.9).astype(np.float32)


def render(shot: Shot, sheets: list, woods: list, seed: int) -> np.ndarray:
    """Return a photo, array (h, w, 3) RGB of uint8.

    ``sheets``: (picture of the page, (x, y, degrees) of the lower left corner of its field of markers).
    """
    rng = np.random.default_rng(seed)
    eye = Eye(shot)
    rays = eye.rays()
    gx, gy = eye.plane(rays, 0.0)
    h, w = gx.shape
    speck = 1 + 0.03 * _noise(rng, (h, w), 1.5) + 0.04 * _noise(rng, (h, w), 40)
    if shot.ground_kind == "weave":
        speck += 0.10 * np.sin(gx * 2 * np.pi / 2.3) * np.sin(gy * 2 * np.pi / 2.3)
    if shot.ground_kind == "concrete":
        speck += 0.10 * _noise(rng, (h, w), 5) + 0.08 * _noise(rng, (h, w), 14)
    img = speck[..., None] * np.array(shot.ground, np.float32)
    mm_px = float(np.abs(gx[h // 2, w // 2 + 1] - gx[h // 2, w // 2]))
    for page, (x, y, deg) in sheets:
        c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        lx, ly = (gx - x) * c + (gy - y) * s, -(gx - x) * s + (gy - y) * c
        k = SHEET_DPI / 25.4
        soft = cv2.GaussianBlur(page, (0, 0), max(0.3, 0.35 * mm_px * k))
        u = (lx + FIELD_LEFT) * k - 0.5
        v = (FIELD_TOP + FIELD_HIGH - ly) * k - 0.5
        paper = cv2.remap(soft, u.astype(np.float32), v.astype(np.float32), cv2.INTER_LINEAR, borderValue=-9)
        on = paper > 0
        img[on] = paper[on][:, None] * np.array([1.0, 0.99, 0.97], np.float32)
    # shadows on the ground
    shade = np.zeros((h, w), np.float32)
    for wood in woods:
        rings = [dense(wood.world(r)) for r in (wood.outer, *wood.holes)]
        moved = [r + np.array(shot.light) * wood.thickness for r in rings]

        def low(rs):
            return [eye.see(np.column_stack([r, np.zeros(len(r))])) for r in rs]

        shade = np.maximum(shade, _cover(shot, _swept(low(rings), low(moved))))
    shade = cv2.GaussianBlur(shade, (0, 0), max(shot.penumbra / mm_px * 0.5, 0.3))
    img *= (1 - shot.shadow * shade)[..., None]
    for wood in woods:
        rings = [dense(wood.world(r)) for r in (wood.outer, *wood.holes)]
        low = [eye.see(np.column_stack([r, np.zeros(len(r))])) for r in rings]
        high = [eye.see(np.column_stack([r, np.full(len(r), wood.thickness)])) for r in rings]
        # walls: shaded by where they face
        wall = _cover(shot, _swept(low, high))
        tone = 0.55 + 0.15 * _noise(rng, (h, w), 8)
        color = np.array(wood.color, np.float32) * np.float32(0.8)
        img += wall[..., None] * (tone[..., None] * color - img)
        top = _cover(shot, high)
        tx, ty = eye.plane(rays, wood.thickness)
        x, y, deg = wood.at
        a = np.radians(deg + wood.grain_deg)
        lx, ly = (tx - x) * np.cos(a) + (ty - y) * np.sin(a), -(tx - x) * np.sin(a) + (ty - y) * np.cos(a)
        tile = wood_tile(rng, wood.figure)
        shape = cv2.remap(
            tile,
            *(np.abs((v * 4 + 1023) % 2046 - 1023).astype(np.float32) for v in (lx, ly)),
            cv2.INTER_LINEAR,
        )
        face = shape[..., None] * np.array(wood.color, np.float32)
        for mx, my, radius, mark in wood.marks:
            p = wood.world([(mx, my)])[0]
            ring = np.abs(np.hypot(tx - p[0], ty - p[1]) - radius)
            ink = np.clip((1.6 - ring) / 0.3, 0, 1)[..., None] * 0.85
            face = face * (1 - ink) + ink * np.array(mark, np.float32)
        img += top[..., None] * (face - img)
    u, v = np.meshgrid(np.linspace(-1, 1, w, dtype=np.float32), np.linspace(-1, 1, h, dtype=np.float32))
    img *= (shot.exposure * (1 - 0.12 * (u * u + v * v)) * (1 + 0.10 * u - 0.06 * v))[..., None]
    img *= np.array(shot.tint, np.float32)
    if shot.blur > 0:
        img = cv2.GaussianBlur(img, (0, 0), shot.blur)
    img += (
        shot.noise
        * 0.012
        * np.sqrt(np.maximum(img, 0) + 0.01)
        * rng.standard_normal(img.shape).astype(np.float32)
    )
    img = np.clip(img, 0, 1)
    code = np.where(img <= 0.0031308, 12.92 * img, 1.055 * np.power(img, 1 / 2.4) - 0.055)
    return np.clip(np.round(code * 255), 0, 255).astype(np.uint8)


def save(path: Path, rgb: np.ndarray, quality: int = 92) -> None:
    options = [cv2.IMWRITE_JPEG_QUALITY, quality] if path.suffix.lower() in (".jpg", ".jpeg") else []
    cv2.imwrite(str(path), rgb[..., ::-1], options)


__all__ = ["Shot", "Wood", "render", "replace", "save", "sheet_picture"]
