"""Members of a glue-up that are crosscut from longer pieces before gluing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestyield.geometry.boolean import intersection
from nestyield.geometry.flatten import flatten_shape
from nestyield.geometry.grid import REACH_UM, SUBGRID, UM_PER_MM
from nestyield.geometry.shape import region_to_shape, to_shapely
from nestyield.glueup.band import rectangle
from nestyield.glueup.chains import MemberChain, Place
from nestyield.glueup.realize import past_metal
from nestyield.model import Settings
from nestyield.model.arc import cos_sin

#: Room beside what a member must hold for what rounding takes, micrometers.
_ROUNDING_UM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What of one copy of a piece a glue-up needs, along the axis of the piece that is nearest its grain.

    Parameters
    ----------
    row, copy : int
    members : tuple of int
        Which members are of it, by their place in the chain.
    axis : {0, 1}
        X or Y of the piece.
    low_um, high_um : float
        Piece coordinates.
    shift : (int, int) or None
        Where a member that is alone in its copy then lies, as near to the piece's corner as may be.
    """

    row: int
    copy: int
    members: tuple[int, ...]
    axis: int
    low_um: float
    high_um: float
    shift: tuple[int, int] | None = None


def stretches(chain: MemberChain, settings: Settings) -> Iterator[Stretch]:
    """Give the stretch of each copy of a glue-up.

    Parameters
    ----------
    chain : MemberChain
    settings : Settings
    """
    groups: dict[tuple[int, int], list[int]] = {}
    for k, place in enumerate(chain.places):
        groups.setdefault((place.server.turned.row, place.copy), []).append(k)
    for (row, copy), members in groups.items():
        c, s = cos_sin(chain.places[members[0]].server.turned.piece.grain_deg or 0.0)
        axis = 0 if abs(c) >= abs(s) else 1
        alone: tuple[int, int] | None = None
        spans: list[tuple[float, float]] = []
        for k in members:
            place = chain.places[k]
            way = np.array(place.server.turned.pose.direction((1.0, 0.0) if axis == 0 else (0.0, 1.0)))
            shift = place.shift
            if shift is None:
                shift = alone = _nearest_corner(chain, k, way, settings)
            points = np.concatenate(chain.lying.needed(*_band(chain, k))) + np.array(shift)
            along = points @ way
            spans.append((float(along.min()) - _ROUNDING_UM, float(along.max()) + _ROUNDING_UM))
        yield Stretch(
            row=row,
            copy=copy,
            members=tuple(members),
            axis=axis,
            low_um=min(low for low, _ in spans),
            high_um=max(high for _, high in spans),
            shift=alone,
        )


def shortened(
    chain: MemberChain, stretch: Stretch, low_um: float, high_um: float, settings: Settings
) -> MemberChain:
    """Return a glue-up of which the members of one copy are cut from less of the piece.

    Parameters
    ----------
    chain : MemberChain
    stretch : Stretch
        Of the chain.
    low_um, high_um : float
        What stays of the piece along the stretch's axis; all of the stretch lies in it.
    settings : Settings
    """
    far = 2 * REACH_UM
    low, high = round(low_um), round(high_um)
    box = rectangle(low, -far, high, far) if stretch.axis == 0 else rectangle(-far, low, far, high)
    places = list(chain.places)
    for k in stretch.members:
        place = places[k]
        turned = place.server.turned
        wood = flatten_shape(place.cut or turned.piece.shape, settings.chord_error_mm, "inside")
        shift = place.shift or stretch.shift
        assert shift is not None
        x, y = ((chain.lying.needed(*_band(chain, k))[0][0] + np.array(shift)) / UM_PER_MM).tolist()
        spot = shapely.Point(turned.pose.inverse().point((x, y)))
        cut = min(
            region_to_shape(intersection(wood, [box])), key=lambda shape: to_shapely(shape).distance(spot)
        )
        places[k] = replace(place, shift=shift, cut=cut)
    return replace(chain, places=tuple(places))


def _band(chain: MemberChain, k: int) -> tuple[int | None, int | None]:
    """Return the seams below and above a member."""
    at = (None, *chain.seams.at_um, None)
    return at[k], at[k + 1]


def _nearest_corner(
    chain: MemberChain, k: int, way: NDArray[np.float64], settings: Settings
) -> tuple[int, int]:
    """Return the shift of a member at which least of its piece lies before it along a way."""
    place: Place = chain.places[k]
    band = _band(chain, k)
    shifts = past_metal(place, place.server.shifts(*band), *band, settings)
    corners = np.rint(np.concatenate(shifts) / SUBGRID).astype(np.int64)
    # what is ripped off lies on the far side, as for members that are not crosscut
    up = -1 if k == 0 else 1
    order = np.lexsort((corners[:, 0], up * corners[:, 1], np.rint(corners @ way)))
    x, y = (int(v) for v in corners[order[0]])
    return x, y
