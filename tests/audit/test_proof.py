from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nestyield.audit.proof import check_proofs
from nestyield.model import (
    AngleInterval,
    Blank,
    Certificate,
    Defect,
    Finding,
    Member,
    Order,
    OrderResult,
    Outline,
    Part,
    Piece,
    Plan,
    ProofBranch,
    Settings,
    Shape,
    Shop,
    Zone,
)
from nestyield.model.facts import EmptyRack
from nestyield.placement.single import PlaceAnswer, place_part

SETTINGS = Settings(cutter_diameter_mm=6.35)


def random_case(seed: int) -> tuple[Part, Piece]:
    """A curved part with a pocket, and a board with a slanting end and knots in depth."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(6, 14))
    angles, radii = np.sort(rng.uniform(0, 2 * math.pi, n)), rng.uniform(60, 150, n)
    points = tuple((float(1.3 * r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(radii, angles))
    part = Part(
        name="p",
        drawing="",
        outline=Outline(points_mm=points, bulges=tuple(float(b) for b in rng.uniform(-0.1, 0.2, n))),
        zones=(Zone(name="P", role="pocket", shape=Shape(outer=Outline.circle(0, 0, 30)), depth_mm=20.0),),
        thickness_mm=40.0,
        grain_tolerance_deg=10.0,
    )
    w, h = (float(v) for v in rng.uniform((280, 230), (420, 330)))
    board = Outline.polygon([(0, 0), (w, 0), (w, h * 0.8), (w * 0.8, h), (w * 0.5, h * 0.93), (0, h)])
    knots = tuple(
        Defect(
            name=f"defects.csv row {k + 2}",
            kind="knot",
            shape=Shape(outer=Outline.circle(*(float(v) for v in rng.uniform((0, 0, 4), (w, h, 15))))),
            face="top",
            depth_mm=float(rng.uniform(5, 40)),
        )
        for k in range(int(rng.integers(0, 6)))
    )
    return part, Piece(name="R", species="m", thickness_mm=43.0, shape=Shape(outer=board), defects=knots)


def answer_for(part: Part, piece: Piece) -> PlaceAnswer:
    blank = Blank(
        name=piece.name,
        members=(Member(piece=piece.name, copy=1),),
        species=piece.species,
        thickness_mm=piece.thickness_mm,
        shape=piece.shape,
        grain_deg=piece.grain_deg,
        defects=piece.defects,
    )
    return place_part(part, blank, SETTINGS)


def replay(part: Part, piece: Piece, proof: Certificate) -> list[Finding]:
    shop = Shop(
        name="",
        units="mm",
        settings=SETTINGS,
        beds=(),
        parts=(part,),
        pieces=(piece,),
        orders=(Order(name="order 1", part=part.name),),
    )
    result = OrderResult(order="order 1", placed=0, count=1, reasons=(EmptyRack(),), certificates=(proof,))
    found = check_proofs(Plan(shop=shop, seed=1, effort=1, layouts=(), orders=(result,)))
    return list(found.get(("order 1", 0), ()))


@pytest.mark.parametrize("seed", [1, 8, 22])
def test_proofs_of_the_search_are_confirmed(seed):
    """Certificates that the search finds are proved again, without anything of the search."""
    part, piece = random_case(seed)
    proof = answer_for(part, piece).certificate
    assert proof is not None
    assert replay(part, piece, proof) == []


def forged(part: Part, tolerance: float) -> Certificate:
    """A certificate that covers every angle in one interval each, whether true or not."""
    xs, ys = zip(*part.outline.points_mm)
    return Certificate(
        part="p",
        blank="R",
        within_mm=0.05,
        center_um=((min(xs) + max(xs)) * 500.0, (min(ys) + max(ys)) * 500.0),
        branches=tuple(
            ProofBranch(
                front_up=front_up,
                mirrored=not front_up,
                top_off_mm=1.5,
                intervals=(AngleInterval(from_deg=turn - tolerance, to_deg=turn + tolerance),),
            )
            for front_up in (True, False)
            for turn in (0.0, 180.0)
        ),
        steps=1,
    )


@pytest.mark.parametrize("seed", [0, 3, 9])
def test_forged_proofs_are_refuted(seed):
    """Where the search places the part, a certificate to the contrary is answered with a placement."""
    part, piece = random_case(seed)
    assert answer_for(part, piece).placement is not None
    told = replay(part, piece, forged(part, 10.0))
    assert [f.code for f in told] == ["A606"]
    assert "lies well at" in told[0].message


def test_a_gap_in_the_angles_is_found():
    """Intervals that leave out angles, ways or grain are found before anything is replayed."""
    part, piece = random_case(1)
    whole = forged(part, 10.0)
    short = replace(whole, branches=whole.branches[:3])
    assert {f.code for f in replay(part, piece, short)} == {"A606"}
    narrow = forged(part, 9.9)
    assert "leaves out angles" in replay(part, piece, narrow)[0].message
    first = whole.branches[0]
    holed = replace(
        first,
        intervals=(AngleInterval(from_deg=-10.0, to_deg=1.0), AngleInterval(from_deg=1.1, to_deg=10.0)),
    )
    gap = replace(whole, branches=(holed, *whole.branches[1:]))
    assert "leaves out angles" in replay(part, piece, gap)[0].message
    assert replay(part, piece, replace(whole, part="q"))[0].code == "A606"
    assert replay(part, piece, replace(whole, blank="S"))[0].code == "A606"


@pytest.mark.parametrize("grain", [{"grain_deg": None}, {"grain_tolerance_deg": 90.0}])
def test_a_proof_over_the_whole_turn(grain):
    """A part that may lie any way round has one proof a face, from any angle once round; the audit takes it."""
    part, _ = random_case(1)
    piece = Piece(
        name="small",
        species="MDF",
        thickness_mm=60.0,
        shape=Shape(outer=Outline.rectangle(0, 0, 60, 60)),
        grain_deg=17.0,
    )
    free = replace(part, species=(), **grain)
    answer = answer_for(free, piece)
    assert answer.certificate is not None
    assert not [f for f in replay(free, piece, answer.certificate) if f.severity == "error"]
