"""Pieces sawn before the bed: the cuts made again one after the other, and what they leave compared."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestyield.audit.curves import TOL_MM, region, thickness_of, unit
from nestyield.audit.inspection import held_wrong
from nestyield.audit.leaves import leaf, resaw_wrong
from nestyield.audit.sheet import CheckedSheet
from nestyield.audit.taken import sawn_off, shortened_copies
from nestyield.audit.worth import left_worth, worth_of
from nestyield.model import Layout, Leftover, Piece, Resaw, SawCut, Sawing

#: Leftovers on the limit of the least size.
SIZE_TOL_MM = 0.05
#: Farther than any piece reaches, millimeters.
FAR_MM = 1e6


def check_sawings(sheet: CheckedSheet) -> None:
    """Saw each piece again as the plan says; compare with its blanks and with what goes back on the rack."""
    plan = sheet.plan
    layouts = {layout.blank.name: layout for layout in plan.layouts}
    told = Counter(name for sawing in plan.sawings for name in sawing.blanks)
    for layout in plan.layouts:
        times = told[layout.blank.name]
        leaves = any(m.layer is not None for m in layout.blank.members)
        wanted = 1 if leaves or sawn_off(layout.blank) is not None else 0
        wanted += len(shortened_copies(layout.blank, sheet.pieces))
        if times != wanted:
            sheet.say(
                "A127",
                f"blank {layout.blank.name}",
                f"the plan tells {times} times how it is sawn off its piece; expected {wanted}",
            )
    copies = Counter((s.piece, s.copy) for s in plan.sawings)
    for (name, copy), times in sorted(copies.items()):
        if times > 1:
            sheet.say("A127", f"piece {name}", f"copy {copy} is sawn {times} times")
    names = Counter(
        [rest.name for s in plan.sawings for rest in s.rests]
        + [left.name for layout in plan.layouts for left in layout.leftovers]
    )
    for sawing in plan.sawings:
        for name in sorted({rest.name for rest in sawing.rests if names[rest.name] > 1}):
            sheet.say("A403", f"piece {sawing.piece}", f"{names[name]} leftovers are called {name}")
        _check(sheet, sawing, layouts)


def _check(sheet: CheckedSheet, sawing: Sawing, layouts: dict[str, Layout]) -> None:
    where = f"piece {sawing.piece}"
    piece = sheet.pieces.get(sawing.piece)
    if piece is None:
        sheet.say("A101", where, "is sawn, but the rack does not have it")
        return
    low, high = worth_of(piece, sheet.plan.shop.settings)
    if not low - 1e-6 <= sawing.value <= high * (1 + 1e-6) + 1e-6:
        sheet.say("A127", where, f"is worth {low:.4f} to {high:.4f}; the plan says {sawing.value:.4f}")
    if sawing.resaw is not None:
        _resawn(sheet, sawing, sawing.resaw, piece, layouts)
        return
    kerf = sheet.plan.shop.settings.machines.saw_kerf_mm
    if sawing.kerf_mm != kerf:
        sheet.say("A127", where, f"its cuts take {sawing.kerf_mm:g} mm; the shop's saw takes {kerf:g} mm")
    parts = [region(piece.shape)]
    for number, cut in enumerate(sawing.cuts, start=1):
        done = _sawn(parts, cut, kerf)
        if isinstance(done, str):
            sheet.say("A127", where, f"cut {number} {done}")
            return
        parts = done
        met = [
            d.name
            for d in piece.defects
            if d.traits.may_hold_metal and _blade(cut, kerf).intersects(region(d.shape))
        ]
        if list(cut.defects) != met:
            sheet.say("A127", where, f"cut {number} meets metal of {met}; the plan says {list(cut.defects)}")
    used: set[int] = set()
    for name in sawing.blanks:
        layout = layouts.get(name)
        if layout is not None and (sawing.piece, sawing.copy) in shortened_copies(layout.blank, sheet.pieces):
            if layout.blank.on_edge:
                strips = _strips(parts, sawing, layout, sheet.plan.shop.settings.chord_error_mm)
                if strips is None:
                    sheet.say("A127", where, f"the cuts do not give the strips of {name}")
                used |= strips or set()
                continue
            k = _board(parts, sawing, layout)
            if k is None or k in used:
                sheet.say("A127", where, f"the cuts do not give the boards of {name}")
            else:
                used.add(k)
            continue
        sawn = None if layout is None else sawn_off(layout.blank)
        if sawn is None or (sawn[0].piece, sawn[0].copy) != (sawing.piece, sawing.copy):
            sheet.say(
                "A127", where, f"{name} is told to be sawn off copy {sawing.copy}, and is no such blank"
            )
            continue
        if sawn[0].layer is not None:
            sheet.say("A129", where, f"{name} is a leaf, and the plan does not tell how the piece is resawn")
        wood = region(sawn[1])
        k = _same(parts, wood, sheet.plan.shop.settings.chord_error_mm)
        if k is None or k in used:
            sheet.say("A127", where, f"the cuts do not give {name}")
        else:
            used.add(k)
    _rests(sheet, sawing, piece, [part for k, part in enumerate(parts) if k not in used])


def _resawn(
    sheet: CheckedSheet, sawing: Sawing, resaw: Resaw, piece: Piece, layouts: dict[str, Layout]
) -> None:
    """Check a piece that is sawn into leaves."""
    where = f"piece {sawing.piece}"
    members = []
    for name in sawing.blanks:
        layout = layouts.get(name)
        own = () if layout is None else layout.blank.members
        if not own or any((m.piece, m.copy) != (sawing.piece, sawing.copy) for m in own):
            sheet.say("A127", where, f"{name} is not of leaves of copy {sawing.copy}")
            continue
        # of a book match the leaf above comes last
        members += sorted(own, key=lambda m: 0.0 if m.layer is None else m.layer.top_mm)
        for m in own:
            cut = piece.shape if m.cut is None else m.cut
            if thickness_of(region(cut).symmetric_difference(region(piece.shape))) > TOL_MM:
                sheet.say("A129", where, f"leaf {name} is not as long and as wide as the piece")
    if not members:
        sheet.say("A127", where, "is resawn, and no blank comes of it")
    for what in resaw_wrong(sawing, piece, members, sheet.plan.shop.settings.machines):
        sheet.say("A129", where, what)
    if len(resaw.rests) != len(sawing.rests):
        return  # told as A129
    told = list(sawing.flaws)
    for rest, layer in zip(sawing.rests, resaw.rests):
        here = replace(
            sawing, rests=(rest,), flaws=tuple(f for f in told if f.leftover == rest.name), resaw=None
        )
        _rests(sheet, here, leaf(piece, layer), [region(piece.shape)])
    if {f.leftover for f in told} - {rest.name for rest in sawing.rests}:
        sheet.say("A518", where, "what leaves hold is told of one that there is not")


def _sawn(parts: list[BaseGeometry], cut: SawCut, kerf: float) -> list[BaseGeometry] | str:
    """Return the parts after a cut, or what is wrong with it."""
    slack = 4 * TOL_MM
    blade = _blade(cut, kerf, slack)
    line = _blade(cut, kerf, FAR_MM)
    out: list[BaseGeometry] = []
    starts: list[float] = []
    for part in parts:
        gone = part.intersection(blade)
        if gone.area <= TOL_MM:
            out.append(part)
            continue
        starts.append(float(part.bounds[0 if cut.across == "x" else 1]))
        left = part.intersection(line).difference(blade)
        if left.area > TOL_MM and thickness_of(left) > slack:
            return "ends inside the wood"
        rest = part.difference(blade)
        out += [p for p in shapely.get_parts(rest) if p.area > TOL_MM]
    if not starts:
        return "meets no wood"
    if abs(min(starts) - cut.start_mm) > 4 * TOL_MM:
        return f"divides wood that begins at {min(starts):.3f} mm; the plan says {cut.start_mm:.3f} mm"
    return out


def _blade(cut: SawCut, kerf: float, more: float = 0.0) -> BaseGeometry:
    """Return what the blade takes, with so much more at both ends."""
    at, low, high = cut.at_mm, cut.from_mm - more, cut.to_mm + more
    if cut.across == "x":
        return shapely.box(at, low, at + kerf, high)
    return shapely.box(low, at, high, at + kerf)


def _same(parts: list[BaseGeometry], wood: BaseGeometry, chord: float) -> int | None:
    """Return the part that a blank is, as far as chords of round edges may differ."""
    for k, part in enumerate(parts):
        past = wood.difference(part)
        short = part.difference(wood)
        if thickness_of(past) <= 4 * TOL_MM and thickness_of(short) <= 4 * TOL_MM + 2 * chord:
            return k
    return None


def _board(parts: list[BaseGeometry], sawing: Sawing, layout: Layout) -> int | None:
    """Return the part that gives the boards of a glue-up."""
    own = [
        region(m.cut)
        for m in layout.blank.members
        if m.cut is not None and (m.piece, m.copy) == (sawing.piece, sawing.copy)
    ]
    for k, part in enumerate(parts):
        if all(thickness_of(wood.difference(part)) <= 4 * TOL_MM for wood in own):
            return k
    return None


def _strips(parts: list[BaseGeometry], sawing: Sawing, layout: Layout, chord: float) -> set[int] | None:
    """Return the parts that are the strips of a blank, one each; None where one is missing."""
    found: set[int] = set()
    for m in layout.blank.members:
        if m.cut is not None and (m.piece, m.copy) == (sawing.piece, sawing.copy):
            k = _same(parts, region(m.cut), chord)
            if k is None or k in found:
                return None
            found.add(k)
    return found


def _rests(sheet: CheckedSheet, sawing: Sawing, piece: Piece, parts: list[BaseGeometry]) -> None:
    where = f"piece {sawing.piece}"
    settings = sheet.plan.shop.settings
    for what in held_wrong(sawing.rests, sawing.flaws, piece.defects, piece.grain_deg):
        sheet.say("A518", where, what)
    free = list(parts)
    for rest in sawing.rests:
        ground = region(rest.shape)
        k = next((k for k, p in enumerate(free) if thickness_of(ground.difference(p)) <= 4 * TOL_MM), None)
        if k is None:
            sheet.say("A403", where, f"{rest.name} is no part that the cuts leave over")
        else:
            free.pop(k)
        if not math.isclose(rest.area_mm2, rest.shape.area_mm2, rel_tol=1e-6, abs_tol=1.0):
            sheet.say(
                "A406",
                where,
                f"{rest.name} has {rest.shape.area_mm2:.1f} mm2, the plan says {rest.area_mm2:.1f}",
            )
        _rectangle(sheet, where, rest, ground, piece)
        low, high = left_worth(piece, rest.shape, settings) if rest.usable else (0.0, 0.0)
        slack = 1e-6 + 1e-5 * abs(high)
        if not low - slack <= rest.value <= high + slack:
            sheet.say(
                "A407", where, f"{rest.name} is worth {low:.4f} to {high:.4f}, the plan says {rest.value:.4f}"
            )


def _rectangle(sheet: CheckedSheet, where: str, rest: Leftover, ground: BaseGeometry, piece: Piece) -> None:
    settings = sheet.plan.shop.settings
    x, y, length, width = rest.rectangle_mm
    z = np.array([x + 1j * y, x + length + 1j * y, x + length + 1j * (y + width), x + 1j * (y + width)])
    z = z * unit(piece.grain_deg or 0.0)
    if length > 0 and width > 0:
        past = thickness_of(shapely.polygons(np.column_stack([z.real, z.imag])).difference(ground))
        if past > 2 * TOL_MM:
            sheet.say("A405", where, f"the rectangle of {rest.name} reaches {past:.3f} mm past it")
    sizes = [(length, width)] if piece.grain_deg is not None else [(length, width), (width, length)]
    least = (settings.leftover_shortest_mm - SIZE_TOL_MM, settings.leftover_narrowest_mm - SIZE_TOL_MM)
    if rest.usable and not any(a >= least[0] and b >= least[1] for a, b in sizes):
        sheet.say("A405", where, f"{rest.name} is called usable with {length:.1f} x {width:.1f} mm")
