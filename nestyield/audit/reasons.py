"""Why an order is short, as far as species, thickness, status and count of each piece tell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from nestyield.audit.depth import check_defects
from nestyield.audit.leaves import may_give_a_leaf
from nestyield.audit.places import check_places
from nestyield.audit.sets import wrong_of_set
from nestyield.audit.sheet import CheckedSheet, bench_of
from nestyield.audit.weights import out_of_range, weight_kg
from nestyield.audit.woods import sheet_for_wood
from nestyield.model import Order, Part, Piece, Placement, Settings
from nestyield.model.facts import (
    BedsRefuse,
    BetterMeasured,
    ClosestRefusal,
    EmptyRack,
    FitsIfRelaxed,
    LeftForSet,
    NoneReady,
    NoPieceOfSpecies,
    NotBookMatched,
    NotLaminated,
    NotOnEdge,
    NotTried,
    OnHold,
    OrderOnHold,
    PiecesOnHold,
    PiecesSpent,
    RackCounts,
    Reason,
    Refusal,
    SetNotWhole,
    SheetTooThick,
    Spent,
    StoppedBeforeTrying,
    TableShort,
    Taken,
    TooHeavy,
    TooLight,
    TooThick,
    TooThin,
    TooThinWhenPlaned,
    TravelShort,
    WeightUnknown,
    WrongSpecies,
)

#: Within this of a limit a piece may suit or not, mm; told figures are whole micrometers.
NEAR_MM, UM_MM = 1e-6, 0.0011
#: Weights are measured again to this share.
_NEAR_WEIGHT = 2e-3
#: Each told figure is rounded to whole micrometers.
ROUNDED_UM = 2

_OF_THICKNESS = TooThin | TooThinWhenPlaned | TooThick | SheetTooThick
_OF_WEIGHT = TooHeavy | TooLight | WeightUnknown
#: Causes that species, thickness and weight decide.
_OF_WOOD = ("of other species", "too thin", "too thick", "of other weight")


def check_reasons(sheet: CheckedSheet) -> None:
    """Check the reasons of every result against the order, the rack and the part."""
    for result in sheet.plan.orders:
        order = sheet.orders.get(result.order)
        if order is None or order.part not in sheet.parts:
            continue  # told by check_orders
        for reason in result.reasons:
            for wrong in _wrong(sheet, order, sheet.parts[order.part], reason):
                sheet.say("A610", order.name, f"{reason.code!r}: {wrong}")


def _wrong(sheet: CheckedSheet, order: Order, part: Part, reason: Reason) -> Iterator[str]:
    """Yield what is not so about one reason."""
    rack = {p.name: p for p in _rack(sheet)}
    pieces = tuple(rack.values())
    woods = [p for p in pieces if _allows(part, p)]
    match reason:
        case OrderOnHold() if not order.hold:
            yield "the order is not on hold"
        case EmptyRack() if pieces:
            yield f"the rack has {len(pieces)} rows"
        case StoppedBeforeTrying() if not sheet.plan.stopped:
            yield "the run was not stopped"
        case NoPieceOfSpecies() | NoneReady() if reason.species != part.species:
            yield f"the part allows {', '.join(part.species) or 'any species'}"
        case NoPieceOfSpecies() if woods:
            yield f"{woods[0].name} is {woods[0].species}"
        case NoneReady() if any(
            _at_hand(p) and not _unsuited(part, p, sheet.plan.shop.settings) for p in pieces
        ):
            yield "a piece of its species and thickness is ready"
        case PiecesSpent() | PiecesOnHold():
            for name in reason.pieces:
                if isinstance(reason, PiecesSpent) and not (sheet.plan.stopped or _copies_used(sheet, name)):
                    yield f"the plan does not use {name}"
                yield from _serves(sheet, part, rack.get(name), name, isinstance(reason, PiecesOnHold))
        case SetNotWhole():
            yield from wrong_of_set(sheet, order, reason)
            yield from _singly(sheet, reason)
        case ClosestRefusal():
            if reason.used and _copies_used(sheet, reason.refusal.piece) < _count(
                sheet, reason.refusal.piece
            ):
                yield f"{reason.refusal.piece} is not used up by the plan"
            if (reason.species, reason.thickness_um) != (part.species, round(1000 * part.thickness_mm)):
                yield f"names {reason.species} and {reason.thickness_um} um, which are not the part's"
            yield from _refusal(sheet, part, rack.get(reason.refusal.piece), reason.refusal)
        case RackCounts():
            yield from _counts(sheet, part, reason, pieces)


def _singly(sheet: CheckedSheet, reason: SetNotWhole) -> Iterator[str]:
    """Yield which parts of a set no row can make that are said to be made singly."""
    settings = sheet.plan.shop.settings
    for order in sheet.plan.shop.orders if reason.singly else ():
        if order.set != reason.set or order.hold or not order.match:
            continue
        part = sheet.parts[order.part]
        ready = [p for p in _rack(sheet) if _at_hand(p) and not _unsuited(part, p, settings, NEAR_MM)]
        if reason.match not in ("row", "board") or not ready:
            yield f"no row makes {part.name} by itself, or nothing asks for one row or board"


def _allows(part: Part, piece: Piece) -> bool:
    if sheet_for_wood(part, piece.species) and not part.cap:
        return False
    return not part.species or piece.species in (*part.species, *part.cap)


def _copies_used(sheet: CheckedSheet, piece: str) -> int:
    return len({copy for x in sheet.plan.layouts for name, copy in x.blank.copies if name == piece})


def _count(sheet: CheckedSheet, piece: str) -> int:
    return sheet.pieces[piece].count if piece in sheet.pieces else 0


def _at_hand(piece: Piece) -> bool:
    return piece.status == "ready" and piece.count > 0


def _rack(sheet: CheckedSheet) -> tuple[Piece, ...]:
    """Return the rack as it was planned from: without the copies in blanks that the plan keeps."""
    plan = sheet.plan
    used = Counter(m.piece for x in plan.layouts if x.blank.name in sheet.kept for m in x.blank.members)
    return tuple(replace(p, count=max(0, p.count - used[p.name])) for p in plan.shop.pieces)


def _planed(piece: Piece, settings: Settings) -> float:
    """Return what is left of a piece when both faces are planed, mm; sheets are not planed."""
    return piece.thickness_mm - (0.0 if piece.grain_deg is None else 2.0 * settings.planing_mm)


def _off(part: Part, piece: Piece, settings: Settings) -> tuple[float, float]:
    """Return by how much a piece is too thin and too thick for a part, mm; negative when it is not."""
    sheet = piece.grain_deg is None
    most = settings.thickness_tolerance_mm if sheet else settings.most_planed_away_mm
    thin = part.thickness_mm - settings.thickness_tolerance_mm - _planed(piece, settings)
    return thin, piece.thickness_mm - part.thickness_mm - most


def _unsuited(part: Part, piece: Piece, settings: Settings, by_mm: float = 0.0) -> str:
    """Return why a piece is no wood for a part whatever its size; ``by_mm`` shifts the limits outwards."""
    if not _allows(part, piece):
        return "of other species"
    if part.book_match or part.cap or part.strips == "only":
        return ""  # whether its leaves, or it as a layer, serve is not told by thickness alone
    thin, thick = _off(part, piece, settings)
    if thick > by_mm and by_mm > 0 and may_give_a_leaf(part, piece, settings):
        thick = by_mm
    if max(thin, thick) > by_mm:
        return "too thin" if thin > by_mm else "too thick"
    near = _NEAR_WEIGHT if by_mm > 0 else -_NEAR_WEIGHT if by_mm < 0 else 0.0
    return "of other weight" if out_of_range(part, piece, settings, near) else ""


def _serves(sheet: CheckedSheet, part: Part, piece: Piece | None, name: str, on_hold: bool) -> Iterator[str]:
    if piece is None:
        yield f"the rack has no piece {name}"
        return
    if (piece.status == "hold") != on_hold:
        yield f"{name} is {piece.status}"
    if why := _unsuited(part, piece, sheet.plan.shop.settings, NEAR_MM):
        yield f"{name} would not serve: {why}"


def _refusal(sheet: CheckedSheet, part: Part, piece: Piece | None, refusal: Refusal) -> Iterator[str]:
    if piece is None:
        yield f"the rack has no piece {refusal.piece}"
        return
    if isinstance(refusal, WrongSpecies):
        sheet_told = refusal.sheet != (sheet_for_wood(part, piece.species) and not part.cap)
        if _allows(part, piece) or refusal.species != piece.species or sheet_told:
            yield f"{piece.name} is {piece.species}, and the part allows {', '.join(part.species) or 'any'}"
        return
    if not _allows(part, piece):
        yield f"{piece.name} is of another species, and is refused for {refusal.code!r}"
    thin, thick = _off(part, piece, sheet.plan.shop.settings)
    if isinstance(refusal, NotBookMatched if not part.book_match else _OF_THICKNESS):
        yield f"{piece.name} is refused for {refusal.code!r}; a book match is asked for: {part.book_match}"
    if isinstance(refusal, NotOnEdge) != (part.strips == "only"):
        yield f"{piece.name} is refused for {refusal.code!r}; strips are asked for: {part.strips}"
    if isinstance(refusal, NotLaminated) != bool(part.cap):
        yield f"{piece.name} is refused for {refusal.code!r}; a cap is asked for: {bool(part.cap)}"
    if isinstance(refusal, _OF_THICKNESS):
        yield from _of_thickness(piece, refusal, _planed(piece, sheet.plan.shop.settings), (thin, thick))
    elif (
        max(thin, thick) > NEAR_MM
        and not part.book_match
        and not part.cap
        and part.strips != "only"
        and not (thin <= 0 and may_give_a_leaf(part, piece, sheet.plan.shop.settings))
    ):
        why = "too thin" if thin > 0 else "too thick"
        yield f"{piece.name} is {why}, and is refused for {refusal.code!r}"
    else:
        yield from _of_weight(sheet, part, piece, refusal)
    if isinstance(refusal, Taken) and piece.status != "taken" and piece.count > 0:
        yield f"{piece.name} is {piece.status}, {piece.count} of it"
    if isinstance(refusal, OnHold) and piece.status != "hold":
        yield f"{piece.name} is {piece.status}"
    if isinstance(refusal, Spent | BedsRefuse) and not _at_hand(piece):
        yield f"{piece.name} is {piece.status}"
    if isinstance(refusal, LeftForSet) and not _at_hand(piece):
        yield f"{piece.name} is {piece.status}"
    if isinstance(refusal, FitsIfRelaxed):
        yield from _better_measured(sheet, part, piece, refusal)
    bed = refusal if isinstance(refusal, BedsRefuse) else getattr(refusal, "bed", None)
    if isinstance(bed, BedsRefuse):
        yield from _of_bed(sheet, piece, bed)
    if isinstance(refusal, NotTried) and not sheet.plan.stopped:
        yield f"{piece.name} was not tried, and the run was not stopped"


def _of_weight(sheet: CheckedSheet, part: Part, piece: Piece, refusal: Refusal) -> Iterator[str]:
    """Check a refusal for weight, and that no other refusal hides one."""
    settings = sheet.plan.shop.settings
    if not isinstance(refusal, _OF_WEIGHT):
        if out_of_range(part, piece, settings, _NEAR_WEIGHT):
            yield f"{piece.name} gives the part another weight, and is refused for {refusal.code!r}"
        return
    if part.weight is None or not out_of_range(part, piece, settings, -_NEAR_WEIGHT):
        yield f"{piece.name} gives the part a weight within its range"
        return
    kg = weight_kg(part, piece, settings)
    if isinstance(refusal, WeightUnknown):
        if kg is not None:
            yield f"{piece.name} gives the part {kg:.3f} kg"
        return
    limit = refusal.most_kg if isinstance(refusal, TooHeavy) else refusal.least_kg
    wanted = part.weight.most_kg if isinstance(refusal, TooHeavy) else part.weight.least_kg
    if kg is None or abs(kg - refusal.weight_kg) > _NEAR_WEIGHT * kg or limit != wanted:
        yield f"{piece.name} gives the part {kg} kg, the plan says {refusal.weight_kg:.3f} of {limit:g}"


def _of_bed(sheet: CheckedSheet, piece: Piece, refusal: BedsRefuse) -> Iterator[str]:
    """The bed that comes closest is one of the shop, and what it is short of are its own figures."""
    bed = sheet.beds.get(refusal.bed)
    if refusal.piece != piece.name:
        yield f"the bed refuses {refusal.piece}, the piece is {piece.name}"
    if bed is None:
        yield f"the shop has no bed {refusal.bed}"
        return
    if not refusal.why and not refusal.in_sections:
        yield f"bed {bed.name} is said to refuse it for nothing"
    for why in refusal.why:
        if isinstance(why, TravelShort):
            own = bed.travel_x_mm if why.axis == "x" else bed.travel_y_mm
            figures = (why.travel_um, round(own * 1000)), (why.short_um, why.needs_um - why.travel_um)
        elif isinstance(why, TableShort):
            low, high = bed.table_x_mm if why.axis == "x" else bed.table_y_mm
            figures = (why.table_um, round((high - low) * 1000)), (why.over_um, why.blank_um - why.table_um)
        else:
            continue
        if any(abs(told - true) > ROUNDED_UM for told, true in figures):
            yield f"bed {bed.name} has other figures along {why.axis.upper()} than are told"


def _better_measured(sheet: CheckedSheet, part: Part, piece: Piece, refusal: FitsIfRelaxed) -> Iterator[str]:
    """Check that a part lies where the plan says that it would if the piece were measured better."""
    for way in refusal.relaxations:
        if not isinstance(way, BetterMeasured):
            continue
        if abs(way.measured_um - 1000 * piece.measured_mm) > 1 or way.needed_um >= way.measured_um:
            yield f"{piece.name} is measured to {piece.measured_mm:g} mm"
            continue
        at = Placement(
            part=part.name,
            order="",
            copy=1,
            angle_deg=way.angle_deg,
            mirrored=way.mirrored,
            x_um=way.x_um,
            y_um=way.y_um,
            front_up=way.front_up,
            top_off_mm=way.top_off_mm,
        )
        bench = bench_of(sheet, replace(piece, measured_mm=way.needed_um / 1000), at)
        check_places(bench)
        check_defects(bench)
        yield from (f.message for f in bench.sheet.findings)


def _of_thickness(
    piece: Piece,
    refusal: TooThin | TooThinWhenPlaned | TooThick | SheetTooThick,
    planed_mm: float,
    off: tuple[float, float],
) -> Iterator[str]:
    """Check a refusal for thickness: the right kind, the piece's thickness, by how much."""
    sheet = piece.grain_deg is None
    plain = planed_mm == piece.thickness_mm
    right = {
        TooThin: plain,
        TooThinWhenPlaned: not plain,
        TooThick: not sheet,
        SheetTooThick: sheet,
    }[type(refusal)]
    by = off[0] if isinstance(refusal, TooThin | TooThinWhenPlaned) else off[1]
    if not right or by <= -NEAR_MM:
        yield f"{piece.name}, {piece.thickness_mm:g} mm thick, is not refused for that"
    elif abs(refusal.far_um / 1000.0 - by) > UM_MM:
        yield f"{piece.name} is {by:.3f} mm off, the plan says {refusal.far_um / 1000.0:.3f} mm"
    if abs(refusal.thickness_um / 1000.0 - piece.thickness_mm) > UM_MM:
        yield f"{piece.name} is {piece.thickness_mm:g} mm thick, not {refusal.thickness_um / 1000.0:g} mm"
    if isinstance(refusal, TooThinWhenPlaned) and abs(refusal.planed_um / 1000.0 - planed_mm) > UM_MM:
        yield f"{piece.name} is planed to {planed_mm:g} mm, not to {refusal.planed_um / 1000.0:g} mm"


def _counts(sheet: CheckedSheet, part: Part, reason: RackCounts, pieces: Sequence[Piece]) -> Iterator[str]:
    """Check the counts by cause: those of the wood exactly, the others by how many pieces they may be."""
    told: Counter[str] = Counter()
    for row in reason.refused:
        told[row.cause] += row.rows
    if reason.rows != len(pieces) or sum(told.values()) != len(pieces):
        yield f"{reason.rows} rows, {sum(told.values())} by cause; the rack has {len(pieces)}"
    settings = sheet.plan.shop.settings
    surely = Counter(_unsuited(part, p, settings, NEAR_MM) for p in pieces)
    at_most = Counter(_unsuited(part, p, settings, -NEAR_MM) for p in pieces)
    for cause in _OF_WOOD:
        if not surely[cause] <= told[cause] <= at_most[cause]:
            yield f"{told[cause]} {cause}, counted {surely[cause]}"
    suited = [p for p in pieces if not _unsuited(part, p, settings, NEAR_MM)]
    most = {
        "on hold": _number(p.status == "hold" for p in suited),
        "taken": _number(p.status == "taken" or p.count == 0 for p in suited),
        "spent": _number(_at_hand(p) for p in suited),
        "left for a set": _number(_at_hand(p) for p in suited),
        "on no bed": _number(_at_hand(p) for p in suited),
        "not tried": _number(_at_hand(p) for p in suited) if sheet.plan.stopped else 0,
    }
    for cause, number in most.items():
        if told[cause] > number:
            yield f"{told[cause]} {cause}; {number} at most can be"


def _number(of: Iterable[bool]) -> int:
    return sum(of)
