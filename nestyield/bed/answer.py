"""The answer of the command ``fit``: as data, and as lines for people."""

from __future__ import annotations

from dataclasses import dataclass

from nestyield.bed.tilt import Tilt
from nestyield.bed.words import format_length
from nestyield.model import Bed, Part, Setup, Units


@dataclass(frozen=True, slots=True, kw_only=True)
class BedFit:
    """What one bed says to a part.

    Parameters
    ----------
    bed : Bed
    along_x, along_y : Setup
    tilt : Tilt or None
        Angles at which the travel takes it; None when there is none.
    askew : Setup or None
        A place at an angle, asked only when neither straight way does.
    least_x_mm, least_y_mm : (travel, turn) or None
        Least travel along this axis that would do at any angle, the other axis staying as it is.
    notes : tuple of str
    sectioned : Setup or None
        A way in sections, asked only when there is none in one go.
    board_mm : (length, width) or None
        Board on which those sections find room for their index pins, along and across the grain.
    """

    bed: Bed
    along_x: Setup
    along_y: Setup
    tilt: Tilt | None
    askew: Setup | None
    least_x_mm: tuple[float, float] | None
    least_y_mm: tuple[float, float] | None
    notes: tuple[str, ...] = ()
    sectioned: Setup | None = None
    board_mm: tuple[float, float] | None = None

    @property
    def fits(self) -> bool:
        """Whether the bed takes the part in any way."""
        return any((self.along_x.is_usable, self.along_y.is_usable, self.askew, self.sectioned))


@dataclass(frozen=True, slots=True, kw_only=True)
class FitAnswer:
    """The answer of the command ``fit``.

    Parameters
    ----------
    part : Part
    cutter_diameter_mm : float
    length_mm, width_mm : float
        Extent along the part's grain (or the drawing's X) and across it.
    beds : tuple of BedFit
    """

    part: Part
    cutter_diameter_mm: float
    length_mm: float
    width_mm: float
    beds: tuple[BedFit, ...]

    @property
    def fits(self) -> bool:
        """Whether any bed takes the part."""
        return any(b.fits for b in self.beds)

    def lines(self, units: Units = "mm") -> tuple[str, ...]:
        """Write the answer for people, one line each."""
        cutter = format_length(self.cutter_diameter_mm, units)
        way = "along the grain" if self.part.grain_deg is not None else "along the drawing's X"
        out = [
            f"{self.part.name}: {format_length(self.length_mm, units)} {way} x {format_length(self.width_mm, units)}, "
            f"{format_length(self.part.thickness_mm, units)} thick; cutter {cutter}"
        ]
        for answer in self.beds:
            out += _bed_lines(answer, units)
        return tuple(out)


def _bed_lines(answer: BedFit, units: Units) -> list[str]:
    bed = answer.bed
    out = [
        f"bed {bed.name}: travel {format_length(bed.travel_x_mm, units)} x {format_length(bed.travel_y_mm, units)}"
    ]
    for name, found in (("X", answer.along_x), ("Y", answer.along_y)):
        needs = f"{format_length(found.needs_x_mm, units, up=True)} x {format_length(found.needs_y_mm, units, up=True)}"
        if found.fits:
            spare = (
                f"spare {format_length(found.spare_x_mm, units, up=False)} along X, "
                f"{format_length(found.spare_y_mm, units, up=False)} along Y"
            )
            turned = ", end for end" if found.turned_deg >= 180.0 else ""
            out.append(f"  along {name}: yes{turned}; needs travel of at least {needs}, {spare}")
        else:
            out.append(f"  along {name}: no; {found.reason}; least travel that would do: {needs}")
    if answer.askew is not None and answer.tilt is not None:
        out.append(
            f"  at an angle: yes, turned {answer.askew.turned_deg:.1f} degrees "
            f"(spare {format_length(answer.tilt.spare_mm, units, up=False)})"
        )
    elif not answer.along_x.fits and not answer.along_y.fits:
        out.append("  at an angle: no" + ("" if answer.tilt is None else ", for the other reasons"))
        for name, other, least in (("X", "Y", answer.least_x_mm), ("Y", "X", answer.least_y_mm)):
            if least is not None:
                out.append(
                    f"  with {other} as it is, {format_length(least[0], units, up=True)} of {name} travel would do, "
                    f"turned {least[1] % 180.0:.1f} degrees"
                )
    if answer.sectioned is not None and answer.board_mm is not None:
        length, width = (format_length(v, units, up=True) for v in answer.board_mm)
        how = answer.sectioned.reason.rpartition("; ")[2]
        along = answer.sectioned.along.upper()
        out.append(f"  in sections: yes, lying along {along}; on a board of {length} x {width} {how}")
    if bed.travel_z_mm is None:
        out.append("  Z travel is not in the shop file: see that it clears the work and the cutter's length")
    out += [f"  note: {note}" for note in answer.notes]
    return out
