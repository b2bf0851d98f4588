"""Blanks that are alike: cut from pieces of one shape and wood in the same way, so that one sheet serves."""

from __future__ import annotations

from collections.abc import Hashable

from nestyield.model import HoldDown, Layout, Pin, Plan


def _signature(layout: Layout) -> Hashable:
    """Return all that a shop sheet shows of a blank, without names of pieces, orders and leftovers."""
    blank, work = layout.blank, layout.work
    held: list[Pin | HoldDown] = [*work.pins, *work.hold_downs] if work is not None else []
    return (
        blank.shape,
        blank.species,
        blank.thickness_mm,
        blank.grain_deg,
        tuple((d.kind, d.shape, d.face, d.depth_mm) for d in blank.defects),
        tuple((p.part, p.angle_deg, p.mirrored, p.x_um, p.y_um, p.front_up) for p in layout.placements),
        tuple((k.shape, k.rectangle_mm, k.usable) for k in layout.leftovers),
        tuple((f.placement, f.volume_ml) for f in layout.fills),
        layout.off,
        None if layout.chosen is None else layout.setups[layout.chosen],
        tuple(
            (w.kg, w.off_kg, tuple(x.piece for x in w.woods if x.known_by == "weighed"))
            for w in layout.weights
        ),
        None if work is None else (work.positions, work.tabs, work.outlines),
        tuple((h.name, h.x_mm, h.y_mm, h.diameter_mm) for h in held),
    )


def first_alike(plan: Plan) -> list[int]:
    """Return for each layout the first one that it is alike to, itself where there is none before it.

    Glue-ups and blanks that are sawn off a board first are never alike: their sheets name their pieces.
    """
    seen: dict[Hashable, int] = {}
    out = []
    for k, layout in enumerate(plan.layouts):
        whole = (
            layout.glueup is None
            and not layout.blank.stack
            and not layout.blank.on_edge
            and all(m.cut is None for m in layout.blank.members)
        )
        key = _signature(layout) if whole else ("own", k)
        out.append(seen.setdefault(key, k))
    return out
