"""The record of a blank of strips on edge: what is ripped, planed, turned, pressed and minded."""

from __future__ import annotations

from collections.abc import Sequence

from nestyield.glueup.laminate import press_on
from nestyield.glueup.record import planed_after
from nestyield.model import (
    Blank,
    EdgeStrip,
    Layout,
    Member,
    OnEdge,
    Piece,
    Press,
    Settings,
    Shop,
)
from nestyield.model.arcs import box_of
from nestyield.model.facts import (
    BlankRefused,
    GlueStrips,
    GuardsInPlace,
    LeaveInClamps,
    LookAtEnds,
    Machine,
    ManualsFirst,
    MoistureDiffers,
    MoistureUnknown,
    OnEdgeCaution,
    OnEdgeStep,
    PlaneBlank,
    PlanedStrips,
    PlaneStrips,
    PressShort,
    RipNarrow,
    RipStrips,
    ScrapeGlue,
    SearchForMetal,
    StandStrips,
)
from nestyield.placement.leftovers import letters
from nestyield.wood.joints import MPA_PER_PSI
from nestyield.wood.machining import machining_rules

#: Less is not planed off, millimeters.
_LEAST_MM = 0.05


def on_edge(layout: Layout, shop: Shop) -> OnEdge | None:
    """Return how a layout's blank is glued from strips on edge; None for a blank that is not.

    Parameters
    ----------
    layout : Layout
    shop : Shop
    """
    blank, settings = layout.blank, shop.settings
    if not blank.on_edge:
        return None
    pieces = [shop.piece(m.piece) for m in blank.members]
    top, bottom = planed_after(blank, [(shop.part(p.part), p) for p in layout.placements])
    strips = tuple(
        _strip(k, piece, member, settings) for k, (piece, member) in enumerate(zip(pieces, blank.members))
    )
    press = press_on(box_of(blank.shape.outer).width * blank.thickness_mm, pieces, settings)
    planed = round(top + bottom, 4)
    return OnEdge(
        strips=strips,
        press=press,
        thickness_mm=blank.thickness_mm,
        top_off_mm=top,
        bottom_off_mm=bottom,
        steps=_steps(blank, strips, press, blank.thickness_mm - planed, planed),
        cautions=_cautions(blank, strips, pieces, press, settings, planed),
    )


def _strip(k: int, piece: Piece, member: Member, settings: Settings) -> EdgeStrip:
    assert member.cut is not None
    assert member.strip is not None
    box = box_of(member.cut.outer)
    turned = member.angle_deg != 0.0
    limits = settings.machines
    planed = round(piece.thickness_mm - member.strip.top_off_mm - member.strip.bottom_off_mm, 4)
    machines: tuple[Machine, ...] = ("planer", "saw")
    return EdgeStrip(
        letter=letters(k).upper(),
        ripped_mm=round(box.height, 4),
        rough_mm=piece.thickness_mm,
        planed_mm=planed,
        length_mm=round(box.width, 4),
        up="near" if member.mirrored else "far",
        end_for_end=turned != member.mirrored,
        top_face="upper" if turned else "lower",
        machine_rules=machining_rules(box.width, box.height, planed, limits, machines),
    )


def _um(length_mm: float) -> int:
    return round(1000 * length_mm)


def _steps(
    blank: Blank, strips: Sequence[EdgeStrip], press: Press, finished_mm: float, planed_mm: float
) -> tuple[OnEdgeStep, ...]:
    alike: dict[tuple[int, int, int], list[str]] = {}
    for one, member in zip(strips, blank.members):
        assert member.strip is not None
        off = (_um(member.strip.top_off_mm), _um(member.strip.bottom_off_mm), _um(one.planed_mm))
        alike.setdefault(off, []).append(one.letter)
    planed = tuple(
        PlanedStrips(boards=tuple(names), top_um=top, bottom_um=bottom, to_um=to)
        for (top, bottom, to), names in alike.items()
    )
    last: list[OnEdgeStep] = [PlaneBlank(to_um=_um(finished_mm))] if planed_mm > _LEAST_MM else []
    return (
        RipStrips(strips=len(strips), boards=blank.stock, to_um=_um(strips[0].ripped_mm)),
        LookAtEnds(),
        PlaneStrips(strips=planed),
        StandStrips(),
        GlueStrips(seams=len(strips) - 1, clamps=press.count),
        LeaveInClamps(),
        ScrapeGlue(),
        *last,
    )


def _cautions(
    blank: Blank,
    strips: Sequence[EdgeStrip],
    pieces: Sequence[Piece],
    press: Press,
    settings: Settings,
    planed_mm: float,
) -> tuple[OnEdgeCaution, ...]:
    out: list[OnEdgeCaution] = []
    if press.count < press.needed:
        out.append(
            PressShort(
                needed=press.needed,
                count=press.count,
                clamp_n=press.clamp_n,
                reached_mpa=round(press.reached_psi * MPA_PER_PSI, 6),
                least_mpa=round(press.pressure_psi[0] * MPA_PER_PSI, 6),
            )
        )
    known = [p.moisture_pct for p in pieces if p.moisture_pct is not None]
    if len(known) > 1 and max(known) > min(known):
        limit = settings.glueup.moisture_difference
        apart = round(max(known) - min(known), 4)
        out.append(MoistureDiffers(difference_points=apart, limit_points=limit))
    if unknown := tuple(o.letter for o, p in zip(strips, pieces) if p.moisture_pct is None):
        out.append(MoistureUnknown(boards=unknown))
    if planed_mm > _LEAST_MM:
        box = box_of(blank.shape.outer)
        rules = machining_rules(box.width, box.height, blank.thickness_mm, settings.machines, ("planer",))
        out += [BlankRefused(rule=rule) for rule in rules if rule.refused]
    narrow = RipNarrow(wide_um=_um(strips[0].ripped_mm), last_um=_um(settings.machines.saw_push_stick_mm))
    return (*out, narrow, SearchForMetal(), GuardsInPlace(), ManualsFirst())
