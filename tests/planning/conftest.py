"""Small shops made by hand: rectangles of wood, rectangles of parts."""

from __future__ import annotations

from typing import Any

import pytest

from nestyield.model import Bed, Order, Outline, Part, Piece, Settings, Shape, Shop


def board(name: str, length: float, width: float, **more: Any) -> Piece:
    shape = more.pop("shape", Shape(outer=Outline.rectangle(0, 0, length, width)))
    return Piece(**{"name": name, "species": "sugar maple", "thickness_mm": 47.0, "shape": shape, **more})


def part(name: str, length: float, width: float, **more: Any) -> Part:
    outline = more.pop("outline", Outline.rectangle(0, 0, length, width))
    return Part(**{"name": name, "drawing": f"{name}.dxf", "outline": outline, "thickness_mm": 44.5, **more})


def bed(name: str = "bench", x: float = 2000, y: float = 2000, **more: Any) -> Bed:
    return Bed(
        **{
            "name": name,
            "travel_x_mm": x,
            "travel_y_mm": y,
            "table_x_mm": (0.0, x),
            "table_y_mm": (0.0, y),
            **more,
        }
    )


def shop(pieces: list[Piece], parts: list[Part], orders: list[Order], **more: Any) -> Shop:
    settings = Settings(**{"cutter_diameter_mm": 6.0, "blank_margin_mm": 5.0, **more.pop("settings", {})})

    return Shop(
        name="Test shop",
        units="mm",
        settings=settings,
        beds=tuple(more.pop("beds", [bed()])),
        parts=tuple(parts),
        pieces=tuple(pieces),
        orders=tuple(orders),
    )


class Make:
    """The makers above, for tests."""

    board = staticmethod(board)
    part = staticmethod(part)
    bed = staticmethod(bed)
    shop = staticmethod(shop)


@pytest.fixture(scope="session")
def make() -> type[Make]:
    return Make
