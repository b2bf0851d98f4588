"""What parts ask for that the shop cannot make, or that contradicts itself."""

from __future__ import annotations

from collections.abc import Iterable

from nestyield.intake.values import Values
from nestyield.model import Part, Settings


def tell_impossible(shop: Values, settings: Settings, parts: Iterable[Part]) -> None:
    """Tell of parts that would never be made, whatever the rack holds, and what to write.

    Parameters
    ----------
    shop : Values
        The whole shop file.
    settings : Settings
    parts : iterable of Part
    """
    section = shop.table("part")
    for part in parts:
        values = None if section is None else section.table(part.name)
        if values is not None and part.book_match:
            _tell_book_match(values, settings, part)
        if values is not None and part.cap:
            _tell_cap(values, part)
        if values is not None and part.strips != "no":
            _tell_strips(values, part)


def _tell_book_match(values: Values, settings: Settings, part: Part) -> None:
    if part.show_face == "top":
        values.error(
            "S018",
            'a book match turns one leaf bottom up, so show_face = "top" never holds; '
            "remove show_face or book_match",
            "show_face",
        )
    if part.grain_deg is None:
        values.error(
            "S018",
            "a book match is opened along the grain; write grain in degrees from the drawing's X, "
            "or remove book_match",
            "grain",
        )
    if settings.machines.resaw_height_mm is None:
        values.warning(
            "S018",
            "never made: a book match is resawn; write resaw_height, the highest board on edge that "
            "your resaw takes, in [machines]",
            "book_match",
        )


def _tell_cap(values: Values, part: Part) -> None:
    if part.book_match:
        values.error("S018", "a part is not book matched and capped at once; remove book_match or cap", "cap")
    if not part.glue:
        values.error("S018", "a cap is glued on, which glue = false forbids; remove glue or cap", "cap")
    if part.grain_deg is None:
        values.error(
            "S018",
            "layers are glued with their grain one way; write grain in degrees from the drawing's X, "
            "or remove cap",
            "cap",
        )


def _tell_strips(values: Values, part: Part) -> None:
    for other, asked in (("book_match", part.book_match), ("cap", bool(part.cap))):
        if asked:
            values.error(
                "S018", f"a part of strips on edge has no {other}; remove {other} or strips", "strips"
            )
    if not part.glue:
        values.error("S018", "strips are glued, which glue = false forbids; remove glue or strips", "strips")
    if part.grain_deg is None:
        values.error(
            "S018",
            "strips run along the grain; write grain in degrees from the drawing's X, or remove strips",
            "strips",
        )
