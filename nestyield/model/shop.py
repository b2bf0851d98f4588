"""The whole of what goes in: settings, parts, pieces, beds and orders."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from nestyield.model.bed import Bed
from nestyield.model.errors import ModelError
from nestyield.model.part import Part
from nestyield.model.piece import Piece

Units = Literal["mm", "in"]
SettingValue = float | int | str | bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """So many of a part, wanted.

    Parameters
    ----------
    name : str
        ``order 1`` ... in file order unless the shop file names it; unique.
    part : str
    count : int
        At least 1.
    priority : int
        1 is first; equal priorities go by due date, then file order.
    due : str or None
        ISO date.
    beds : tuple of str
        Beds that may cut it; empty means any.
    hold : bool
        On hold: reported, not planned.
    """

    name: str
    part: str
    count: int = 1
    priority: int = 5
    due: str | None = None
    beds: tuple[str, ...] = ()
    hold: bool = False

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ModelError(f"expected count >= 1 in {self.name}, got {self.count}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueClass:
    """What stock of at least some size is worth.

    Parameters
    ----------
    least_length_mm, least_width_mm, least_thickness_mm : float
        Along the grain, area over length, and thickness; millimetres.
    species : tuple of str
        Only these; empty: any.
    times : float
        So many times the value of the species.
    per_board_foot : float or None
        Money a board foot, instead of ``times``.
    """

    least_length_mm: float = 0.0
    least_width_mm: float = 0.0
    least_thickness_mm: float = 0.0
    species: tuple[str, ...] = ()
    times: float = 1.0
    per_board_foot: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Every setting of the shop file that is not a part, bed or order. Lengths in millimetres.

    Defaults marked P are common practice without a source, see README.

    Parameters
    ----------
    chord_error_mm : float
        Largest distance between an arc and its chords.
    chaining_mm : float
        Largest gap closed between the ends of drawing entities.
    cutter_diameter_mm : float
    between_parts_mm : float or None
        Gap between parts; None means cutter diameter + 3 mm (P).
    blank_margin_mm : float
        Least wood between a part's outline and the edge of the blank (P: 6.35).
    jointing_mm : float
        Taken off each jointed edge (P: 0.8).
    planing_mm : float
        Taken off each face before routing (P: 0.8); nothing on sheets without grain.
    most_planed_away_mm : float
        A piece thicker than the part by more than this is not spent on it. Sheets are not planed: they may
        be thicker by the thickness tolerance only.
    thickness_tolerance_mm : float
        A sheet or piece thinner than nominal by up to this still serves.
    leftover_shortest_mm, leftover_narrowest_mm : float
        Least rectangle worth putting back.
    leftover_worth : float
        What comes back counts for so much of its value in the choice, 0 to 1 (P: half).
    value_per_board_foot : dict of str to float
        By species; ``""`` is the default for species not named.
    value_classes : tuple of ValueClass
        By thickness and size; the first that stock is large enough for counts.
    glueup, wood, machines, prefer : dict of str to value
        The sections of those names: every key that is known, lengths under ``KEY_mm``, angles under
        ``KEY_deg``, others under ``KEY``; see ``nestyield/intake/keys.py``.
    """

    chord_error_mm: float = 0.02
    chaining_mm: float = 0.1
    cutter_diameter_mm: float
    between_parts_mm: float | None = None
    blank_margin_mm: float = 6.35
    jointing_mm: float = 0.8
    planing_mm: float = 0.8
    most_planed_away_mm: float = 12.0
    thickness_tolerance_mm: float = 0.15
    leftover_shortest_mm: float = 200.0
    leftover_narrowest_mm: float = 50.0
    leftover_worth: float = 0.5
    value_per_board_foot: dict[str, float] = field(default_factory=dict)
    value_classes: tuple[ValueClass, ...] = ()
    effort: int = 3
    seconds: float = 600.0
    seed: int = 1
    workers: int = 2
    glueup: dict[str, SettingValue] = field(default_factory=dict)
    wood: dict[str, SettingValue] = field(default_factory=dict)
    machines: dict[str, SettingValue] = field(default_factory=dict)
    prefer: dict[str, SettingValue] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.cutter_diameter_mm > 0:
            raise ModelError(f"expected cutter_diameter_mm > 0, got {self.cutter_diameter_mm}")

    @property
    def gap_mm(self) -> float:
        """Least distance between the outlines of two parts, millimetres."""
        return self.cutter_diameter_mm + 3.0 if self.between_parts_mm is None else self.between_parts_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """Everything that was read from a shop folder.

    Parameters
    ----------
    name : str
    units : {"mm", "in"}
        Units of output for people, and of bare numbers in the shop file.
    settings : Settings
    beds, parts, pieces, orders : tuple
        In file order.
    files : dict of str to str
        Name relative to the shop folder -> SHA-256 of its bytes.
    """

    name: str
    units: Units
    settings: Settings
    beds: tuple[Bed, ...]
    parts: tuple[Part, ...]
    pieces: tuple[Piece, ...]
    orders: tuple[Order, ...]
    files: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        parts = {p.name for p in self.parts}
        for order in self.orders:
            if order.part not in parts:
                known = ", ".join(sorted(parts)) or "none"
                raise ModelError(f"order {order.name!r} is for part {order.part!r}; known parts: {known}")

    def part(self, name: str) -> Part:
        """Return the part of that name; KeyError when there is none."""
        return {p.name: p for p in self.parts}[name]

    def piece(self, name: str) -> Piece:
        """Return the piece of that name; KeyError when there is none."""
        return {p.name: p for p in self.pieces}[name]

    def bed(self, name: str) -> Bed:
        """Return the bed of that name; KeyError when there is none."""
        return {b.name: b for b in self.beds}[name]
