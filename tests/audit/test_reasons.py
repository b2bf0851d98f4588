"""Reasons for orders that are short, against racks whose pieces were worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nestyield.audit.reasons import check_reasons
from nestyield.audit.sheet import CheckedSheet
from nestyield.model import Layout, Order, OrderResult, Outline, Part, Piece, Plan, Settings, Shape, Shop
from nestyield.model.facts import (
    BlanksKept,
    ClosestRefusal,
    EmptyRack,
    NoneReady,
    NoPieceOfSpecies,
    NoPlaceLeft,
    NotTried,
    OnHold,
    OrderOnHold,
    PiecesOnHold,
    PiecesSpent,
    RackCounts,
    RowsRefused,
    SheetTooThick,
    Spent,
    StoppedBeforeTrying,
    Taken,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    WrongSpecies,
)
from nestyield.placement.stock import blank_of

BODY = Part(
    name="body",
    drawing="body.dxf",
    outline=Outline.rectangle(0, 0, 300, 100),
    thickness_mm=40.0,
    species=("sugar maple",),
)


def piece(name: str, thickness_mm: float, **more: Any) -> Piece:
    shape = Shape(outer=Outline.rectangle(0, 0, 400, 150))
    return Piece(
        **{"name": name, "species": "sugar maple", "thickness_mm": thickness_mm, "shape": shape, **more}
    )


#: 0.8 mm is planed off each face, 0.15 mm may be missing, 12 mm may be planed away.
RACK = (
    piece("walnut", 44.0, species="black walnut"),
    piece("planed", 38.0),  # 36.4 mm planed; 39.85 - 36.4 = 3.45 mm too thin
    piece("thick", 60.0),  # 60 - 40 - 12 = 8 mm too thick
    piece("thin sheet", 39.0, grain_deg=None),  # 39.85 - 39 = 0.85 mm too thin
    piece("thick sheet", 41.0, grain_deg=None),  # 41 - 40.15 = 0.85 mm too thick
    piece("held", 44.0, status="hold"),
    piece("gone", 44.0, status="taken"),
    piece("here", 44.0),
    piece("also here", 44.0),
)


def found(
    *reasons: Any,
    rack: tuple[Piece, ...] = RACK,
    stopped: str = "",
    hold: bool = False,
    kept: str = "",
    used: tuple[str, ...] = (),
) -> list[str]:
    """What the audit has to say to the reasons of one order."""
    shop = Shop(
        name="s",
        units="mm",
        settings=Settings(cutter_diameter_mm=6.0),
        beds=(),
        parts=(BODY,),
        pieces=rack,
        orders=(Order(name="o", part="body", count=2, hold=hold),),
    )
    result = OrderResult(order="o", placed=0, count=2, reasons=reasons)
    plan = Plan(shop=shop, seed=1, effort=1, layouts=(), orders=(result,), stopped=stopped)  # type: ignore[arg-type]
    layouts = tuple(
        Layout(
            blank=blank_of(whole),
            placements=(),
            setups=(),
            chosen=None,
            part_area_mm2=0.0,
            stock_area_mm2=0.0,
            usable_area_mm2=0.0,
            board_feet=0.0,
            value=0.0,
        )
        for whole in rack
        if whole.name in (kept, *used)
    )
    plan = replace(plan, layouts=layouts, notices=(BlanksKept(blanks=(kept,)),) if kept else ())
    sheet = CheckedSheet(plan)
    check_reasons(sheet)
    assert {f.code for f in sheet.findings} <= {"A610"}
    return [f.message for f in sheet.findings]


def closest(refusal: Any, **more: Any) -> ClosestRefusal:
    return ClosestRefusal(**{"species": ("sugar maple",), "thickness_um": 40_000, "refusal": refusal, **more})


def counts(rows: int = 9, **number: int) -> RackCounts:
    """Counts by cause; blanks stand for underscores."""
    refused = tuple(RowsRefused(rows=n, cause=c.replace("_", " ")) for c, n in number.items())  # type: ignore[arg-type]
    return RackCounts(rows=rows, refused=refused)


#: By hand from the rack.
WOOD = {"of_other_species": 1, "too_thin": 2, "too_thick": 2}

SOUND = [
    closest(TooThinWhenPlaned(piece="planed", thickness_um=38_000, planed_um=36_400, far_um=3450)),
    closest(TooThick(piece="thick", thickness_um=60_000, far_um=8000)),
    closest(TooThin(piece="thin sheet", thickness_um=39_000, far_um=850)),
    closest(SheetTooThick(piece="thick sheet", thickness_um=41_000, far_um=850)),
    closest(WrongSpecies(piece="walnut", species="black walnut")),
    closest(Taken(piece="gone")),
    closest(OnHold(piece="held", usable=True, far_um=0)),
    closest(NoPlaceLeft(piece="here")),
    PiecesSpent(pieces=("here", "also here")),
    PiecesOnHold(pieces=("held",)),
    counts(**WOOD, on_hold=1, taken=1, spent=1, without_a_place=1),
    counts(**WOOD, without_a_place=4),
    counts(**WOOD, without_a_place=3, undecided=1),
]


@pytest.mark.parametrize("reason", SOUND, ids=[str(k) for k in range(len(SOUND))])
def test_true_reasons_pass(reason: Any) -> None:
    """Reasons that agree with figures worked out by hand have no finding."""
    assert found(reason, used=("here", "also here")) == []


def test_a_piece_that_the_plan_does_not_use_is_not_spent() -> None:
    """Pieces that are said to be used up are in the plan's layouts, unless the run was stopped before they were."""
    spent, near = PiecesSpent(pieces=("here",)), closest(NoPlaceLeft(piece="here"), used=True)
    for reason in (spent, near):
        assert found(reason, used=("here",)) == []
        (wrong,) = found(reason, used=("also here",))
        assert "here" in wrong
    assert found(spent, stopped="seconds") == []


def test_what_stops_and_holds_is_asked_of_plan_and_order() -> None:
    """An order on hold, an empty rack, a run that was stopped and a rack of other wood are taken as they are."""
    assert found(OrderOnHold(), hold=True) == []
    assert found(EmptyRack(), rack=()) == []
    assert found(StoppedBeforeTrying(), stopped="seconds") == []
    assert found(closest(NotTried(piece="here")), stopped="interrupt") == []
    assert found(counts(**WOOD, on_hold=1, taken=1, not_tried=2), stopped="interrupt") == []
    assert found(NoPieceOfSpecies(species=("sugar maple",)), rack=RACK[:1]) == []
    assert found(NoneReady(species=("sugar maple",)), rack=(RACK[0], RACK[5], RACK[6])) == []


FAULTS = [
    (OrderOnHold(), "not on hold"),
    (EmptyRack(), "the rack has 9 rows"),
    (StoppedBeforeTrying(), "was not stopped"),
    (NoPieceOfSpecies(species=("sugar maple",)), "planed is sugar maple"),
    (NoPieceOfSpecies(species=()), "the part allows sugar maple"),
    (NoneReady(species=("sugar maple",)), "is ready"),
    (PiecesSpent(pieces=("here", "held")), "held is hold"),
    (PiecesSpent(pieces=("planed",)), "planed would not serve: too thin"),
    (PiecesSpent(pieces=("lost",)), "no piece lost"),
    (PiecesOnHold(pieces=("here",)), "here is ready"),
    (closest(WrongSpecies(piece="here", species="sugar maple")), "here is sugar maple"),
    (closest(WrongSpecies(piece="walnut", species="cherry")), "walnut is black walnut"),
    (closest(NoPlaceLeft(piece="walnut")), "of another species"),
    (closest(NoPlaceLeft(piece="thick")), "thick is too thick"),
    (closest(NoPlaceLeft(piece="lost")), "no piece lost"),
    (closest(Taken(piece="here")), "here is ready"),
    (closest(OnHold(piece="here", usable=True, far_um=0)), "here is ready"),
    (closest(Spent(piece="gone")), "gone is taken"),
    (closest(NotTried(piece="here")), "was not stopped"),
    (closest(TooThin(piece="planed", thickness_um=38_000, far_um=3450)), "is not refused for that"),
    (closest(TooThick(piece="here", thickness_um=44_000, far_um=10)), "is not refused for that"),
    (
        closest(TooThinWhenPlaned(piece="planed", thickness_um=38_000, planed_um=36_400, far_um=3600)),
        "3.450 mm off, the plan says 3.600",
    ),
    (
        closest(TooThinWhenPlaned(piece="planed", thickness_um=38_000, planed_um=37_200, far_um=3450)),
        "planed to 36.4 mm, not to 37.2",
    ),
    (closest(TooThick(piece="thick", thickness_um=61_000, far_um=8000)), "60 mm thick, not 61"),
    (closest(SheetTooThick(piece="thick sheet", thickness_um=41_000, far_um=1000)), "0.850 mm off"),
    (closest(Taken(piece="gone"), thickness_um=39_000), "not the part's"),
    (closest(Taken(piece="gone"), species=()), "not the part's"),
    (counts(rows=8, **WOOD, without_a_place=3), "the rack has 9"),
    (counts(**WOOD, without_a_place=5), "10 by cause; the rack has 9"),
    (counts(of_other_species=2, too_thin=2, too_thick=2, without_a_place=3), "2 of other species, counted 1"),
    (counts(of_other_species=1, too_thin=1, too_thick=2, without_a_place=5), "1 too thin, counted 2"),
    (counts(of_other_species=1, too_thin=2, too_thick=3, without_a_place=3), "3 too thick, counted 2"),
    (counts(**WOOD, on_hold=2, without_a_place=2), "2 on hold; 1 at most"),
    (counts(**WOOD, taken=2, without_a_place=2), "2 taken; 1 at most"),
    (counts(**WOOD, spent=3, without_a_place=1), "3 spent; 2 at most"),
    (counts(**WOOD, not_tried=1, without_a_place=3), "1 not tried; 0 at most"),
]


@pytest.mark.parametrize(("reason", "said"), FAULTS, ids=[f"{k} {f[1]}" for k, f in enumerate(FAULTS)])
def test_each_false_reason_is_found(reason: Any, said: str) -> None:
    """A reason that does not agree with the rack is named with what is so."""
    assert any(said in message for message in found(reason)), found(reason)


def test_on_the_limit_either_is_right() -> None:
    """A piece just as thick as it must be may be counted either way; a micrometer more or less may not."""
    limit = (piece("limit", 39.85 + 1.6),)
    assert found(counts(rows=1, too_thin=1), rack=limit) == []
    assert found(counts(rows=1, without_a_place=1), rack=limit) == []
    assert found(counts(rows=1, too_thin=1), rack=(replace(limit[0], thickness_mm=41.451),)) != []
    assert found(counts(rows=1, without_a_place=1), rack=(replace(limit[0], thickness_mm=41.449),)) != []


def test_copies_in_kept_blanks_are_gone() -> None:
    """A piece of which a kept blank uses the only copy may be counted as taken; without the blank it may not."""
    rack = (piece("here", 44.0),)
    assert found(counts(rows=1, taken=1), rack=rack) != []
    assert found(counts(rows=1, taken=1), rack=rack, kept="here") == []
    assert found(closest(Taken(piece="here")), rack=rack, kept="here") == []
