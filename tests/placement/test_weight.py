"""Volumes of finished parts against closed formulas, and what each piece of a blank adds."""

from __future__ import annotations

import math

import pytest

from nestyield.model import (
    Blank,
    Member,
    Outline,
    OwnWood,
    Part,
    Piece,
    Placement,
    Seam,
    Shape,
    WeightWish,
    Zone,
)
from nestyield.model.facts import TooHeavy, TooLight, WeightUnknown
from nestyield.placement.weight import lightest_kg, off_weight, solid_of, weight_on, weights_of

BOX = 100.0 * 60.0 * 40.0


def part(*zones: Zone, **more: object) -> Part:
    return Part(
        **{
            "name": "box",
            "drawing": "box.dxf",
            "outline": Outline.rectangle(0, 0, 100, 60),
            "thickness_mm": 40.0,
            "zones": zones,
            **more,
        }
    )


def zone(
    role: str, outline: Outline, depth: float | None = None, face: str = "front", name: str = "Z"
) -> Zone:
    return Zone(name=name, role=role, shape=Shape(outer=outline), depth_mm=depth, face=face)


def piece(name: str = "B-1", kg: float | None = None, **more: object) -> Piece:
    return Piece(
        **{
            "name": name,
            "species": "sugar maple",
            "thickness_mm": 50.0,
            "shape": Shape(outer=Outline.rectangle(0, 0, 200, 100)),
            "weight_kg": kg,
            **more,
        }
    )


@pytest.mark.outside(source="volume of box and cylinder", mark="D")
def test_a_box_with_a_cylinder_bored() -> None:
    """Length times width times thickness, less pi r squared times thickness."""
    bored = part(zone("hole", Outline.circle(50, 30, 10)))
    assert solid_of(bored).volume_mm3 == pytest.approx(BOX - math.pi * 100 * 40, rel=2e-5)


@pytest.mark.outside(source="volume of box and cylinder", mark="D")
def test_a_bore_that_crosses_a_pocket_is_taken_away_once() -> None:
    """Half of the bore lies in the pocket, where only the wood below its floor is left to take."""
    pocket = zone("pocket", Outline.rectangle(20, 15, 60, 45), 15.0, name="P")
    bore = zone("hole", Outline.circle(60, 30, 8))
    half = math.pi * 64 / 2
    away = 40 * 30 * 15 + half * 40 + half * (40 - 15)
    assert solid_of(part(pocket, bore)).volume_mm3 == pytest.approx(BOX - away, rel=2e-5)


@pytest.mark.parametrize(
    ("front", "back", "away"),
    [
        # 40 x 30 and 30 x 30 that share 20 x 30: 10 and 15 deep leave wood between, 25 and 20 deep do not
        (10.0, 15.0, 40 * 30 * 10 + 30 * 30 * 15),
        (25.0, 20.0, 20 * 30 * 25 + 10 * 30 * 20 + 20 * 30 * 40),
    ],
)
def test_pockets_from_both_faces_take_their_union(front: float, back: float, away: float) -> None:
    """Where pockets of the two faces meet, the thickness is taken away once."""
    two = part(
        zone("pocket", Outline.rectangle(20, 15, 60, 45), front, name="F"),
        zone("pocket", Outline.rectangle(40, 15, 70, 45), back, "back", name="B"),
    )
    assert solid_of(two).volume_mm3 == pytest.approx(BOX - away, rel=1e-6)


def test_pockets_that_overlap_take_the_deeper() -> None:
    """Two pockets of one face share 20 x 30; there the deeper one counts."""
    two = part(
        zone("pocket", Outline.rectangle(20, 15, 60, 45), 10.0, name="F"),
        zone("pocket", Outline.rectangle(40, 15, 70, 45), 18.0, name="G"),
    )
    assert solid_of(two).volume_mm3 == pytest.approx(BOX - 20 * 30 * 10 - 30 * 30 * 18, rel=1e-6)


@pytest.mark.outside(source="volume of a body of revolution", mark="D")
def test_a_contour_slopes_from_nothing_to_its_depth() -> None:
    """Round a disc of 50 the last 10 fall by 12: 2 pi times the integral of 12 (r - 40) / 10 times r."""
    rim = Shape(outer=Outline.circle(0, 0, 50), holes=(Outline.circle(0, 0, 40),))
    disc = part(Zone(name="C", role="contour", shape=rim, depth_mm=12.0), outline=Outline.circle(0, 0, 50))
    away = 2 * math.pi * 1.2 * ((50**3 - 40**3) / 3 - 40 * (50**2 - 40**2) / 2)
    whole = math.pi * 2500 * 40
    assert whole - solid_of(disc).volume_mm3 == pytest.approx(away, rel=5e-3)


def test_density_of_the_table_of_the_maker_and_of_the_scale() -> None:
    """Sugar maple 0.63 x 1.12; the maker's own 650; 0.65 kg in a liter of board."""
    solid = part()
    assert weight_on(solid, piece(), ()) == pytest.approx(0.24 * 0.7056)
    own = (OwnWood(name="sugar maple", density_kg_m3=650.0),)
    assert weight_on(solid, piece(), own) == pytest.approx(0.24 * 0.65)
    assert weight_on(solid, piece(kg=0.6), own) == pytest.approx(0.24 * 0.6)
    assert weight_on(solid, piece(species="moon cheese"), ()) is None


def test_a_weighed_piece_is_off_by_scale_measure_and_wood() -> None:
    """0.6 kg to 0.05, 200 x 100 x 50 mm each to 0.5, and 3 percent within a board."""
    weighed = piece(kg=0.6, weight_off_kg=0.05)
    told = weights_of(blank(weighed), [(part(), place())], {"B-1": weighed}, ())[0]
    share = math.sqrt((0.05 / 0.6) ** 2 + (0.5 / 200) ** 2 + (0.5 / 100) ** 2 + (0.5 / 50) ** 2 + 0.03**2)
    assert told.off_kg == pytest.approx(0.24 * 0.6 * share)
    assert told.woods[0].known_by == "weighed"


def place(**more: object) -> Placement:
    return Placement(
        **{
            "part": "box",
            "order": "o",
            "copy": 1,
            "angle_deg": 0.0,
            "mirrored": False,
            "x_um": 0,
            "y_um": 0,
            **more,
        }
    )


def blank(*pieces: Piece, seams: tuple[Seam, ...] = ()) -> Blank:
    return Blank(
        name="blank",
        members=tuple(Member(piece=p.name, copy=1) for p in pieces),
        species="sugar maple",
        thickness_mm=50.0,
        shape=pieces[0].shape,
        grain_deg=0.0,
        seams=seams,
    )


def test_each_piece_of_a_glue_up_weighs_its_own_side_of_the_seam() -> None:
    """A seam at 20 of 60 mm: a third of one board, two thirds of the other; the pocket lies in the upper."""
    seam = Seam(name="seam 1", line_mm=((0.0, 20.0), (150.0, 20.0)))
    heavy, light = piece("A", 0.8), piece("B", 0.5)
    pocket = zone("pocket", Outline.rectangle(10, 30, 90, 50), 10.0)
    (told,) = weights_of(
        blank(heavy, light, seams=(seam,)), [(part(pocket), place())], {"A": heavy, "B": light}, ()
    )
    low, high = 100 * 20 * 40, 100 * 40 * 40 - 80 * 20 * 10
    assert [w.volume_mm3 for w in told.woods] == pytest.approx([low, high])
    assert told.kg == pytest.approx((low * 800 + high * 500) / 1e9)
    off = [w.off_pct / 100 for w in told.woods]
    assert told.off_kg == pytest.approx(math.hypot(low * 8e-7 * off[0], high * 5e-7 * off[1]))


def test_a_range_refuses_wood_that_is_too_heavy_too_light_or_unknown() -> None:
    """The box of 0.24 liters: at most 0.15 kg is at most 625 kg/m3."""
    most = part(weight=WeightWish(most_kg=0.15))
    assert off_weight(most, piece(kg=0.625), ()) is None
    heavy = off_weight(most, piece(kg=0.626), ())
    assert isinstance(heavy, TooHeavy)
    assert (heavy.weight_kg, heavy.most_kg) == pytest.approx((0.24 * 0.626, 0.15))
    least = part(weight=WeightWish(least_kg=0.15))
    assert isinstance(off_weight(least, piece(kg=0.624), ()), TooLight)
    assert isinstance(off_weight(least, piece(species="moon cheese"), ()), WeightUnknown)


def test_only_parts_that_are_to_be_light_are_counted() -> None:
    """One part is to be light, one is not; wood of unknown density counts as 1500 kg/m3."""
    light, plain = part(weight=WeightWish(lightest=True)), part()
    known, unknown = piece(kg=0.6), piece(species="moon cheese")
    both = [(light, place()), (plain, place(x_um=100_000))]
    assert lightest_kg(blank(known), both, {"B-1": known}, ()) == pytest.approx(0.24 * 0.6)
    assert lightest_kg(blank(unknown), both, {"B-1": unknown}, ()) == pytest.approx(0.24 * 1.5)
