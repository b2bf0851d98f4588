"""Small shops made in code."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from nestyield.model import Bed, Blank, KeepOut, Member, Outline, Part, Placement, Settings, Shape


@pytest.fixture
def settings() -> Settings:
    return Settings(cutter_diameter_mm=6.0)


@pytest.fixture
def make_bed() -> Callable[..., Bed]:
    def make(
        x: float = 600.0,
        y: float = 400.0,
        *,
        table: tuple[float, float, float, float] | None = None,
        keep_outs: tuple[KeepOut, ...] = (),
        open_ends: tuple[str, ...] = (),
        z: float | None = None,
    ) -> Bed:
        x0, y0, x1, y1 = table or (0.0, 0.0, x, y)
        return Bed(
            name="bench",
            travel_x_mm=x,
            travel_y_mm=y,
            travel_z_mm=z,
            table_x_mm=(x0, x1),
            table_y_mm=(y0, y1),
            keep_outs=keep_outs,
            open_ends=open_ends,  # type: ignore[arg-type]
        )

    return make


@pytest.fixture
def make_part() -> Callable[..., Part]:
    def make(outline: Outline, **more: object) -> Part:
        return Part(name="part", drawing="", outline=outline, thickness_mm=44.5, **more)  # type: ignore[arg-type]

    return make


@pytest.fixture
def make_blank() -> Callable[..., Blank]:
    def make(outer: Outline, holes: tuple[Outline, ...] = ()) -> Blank:
        return Blank(
            name="R1",
            members=(Member(piece="R1", copy=1),),
            species="black cherry",
            thickness_mm=46.1,
            shape=Shape(outer=outer, holes=holes),
            grain_deg=0.0,
        )

    return make


@pytest.fixture
def at() -> Callable[..., Placement]:
    def make(x_mm: float, y_mm: float, angle_deg: float = 0.0, mirrored: bool = False) -> Placement:
        return Placement(
            part="part",
            order="order 1",
            copy=1,
            angle_deg=angle_deg,
            mirrored=mirrored,
            x_um=round(x_mm * 1000),
            y_um=round(y_mm * 1000),
        )

    return make
