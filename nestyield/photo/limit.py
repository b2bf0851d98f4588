"""What is said of a picture that may be off by more than the limit: how far, by what most, and what to do."""

from __future__ import annotations

from nestyield.model import Finding
from nestyield.photo.accuracy import RULE_MM, THICKNESS_MM, Accuracy
from nestyield.photo.request import PhotoRequest
from nestyield.photo.told import tell
from nestyield.words import Words

#: Raising the limit is offered up to this, mm; beyond it the picture is better taken again.
_OFFERED_MM = 2.0


def too_far_off(accuracy: Accuracy, name: str, request: PhotoRequest) -> Finding:
    """Return the error: estimate, limit, largest share, remedy, and what raising the limit does."""
    words = Words(request.units)
    error, limit = (
        words.length(v, style="fine", rounding="up") for v in (accuracy.error_mm, request.limit_mm)
    )
    largest = accuracy.largest
    shares = {"scanner": accuracy.camera_mm, **accuracy.shares_mm, "edges": accuracy.edge_mm}
    share = words.length(shares[largest], style="fine", rounding="up")
    cause, remedy = _causes(words)[largest]
    message = f"outlines may be off by {error}, the limit is {limit}; most of it, {share}, comes from {cause}: {remedy}"
    if accuracy.error_mm <= _OFFERED_MM:
        message += f'. Or raise the limit, --limit "{error}": the picture is taken, and outlines are drawn in by that much'
    return tell("error", "V008", message, name)


def _causes(words: Words) -> dict[str, tuple[str, str]]:
    """Return cause and remedy of each share."""
    caliper, rule = (words.length(v, style="fine") for v in (THICKNESS_MM, RULE_MM))
    return {
        "markers": (
            "how well the corners of the markers tell lens, tilt and distance of the camera",
            "lay a sheet on each side of the pieces and tilt the camera by about 20 degrees; where that is done, take a "
            "picture with more pixels, lay more sheets (--sheets --count) around the pieces, or add a second tilted "
            "picture from another side with --together",
        ),
        "thickness": (
            f"the height of the surface (a thickness is taken to be known within {caliper})",
            "hold the camera higher",
        ),
        "print": (
            f"the scale of the print (a line of a sheet is taken to be measured within {rule})",
            "nothing in the picture makes it less on pieces of this size; photograph smaller pieces, or measure this one "
            "by hand",
        ),
        "scanner": (
            "the scanner, which is true to a share of the length",
            "measure a piece of this size by hand",
        ),
        "edges": (
            "the edges of the pieces in the picture",
            "go nearer, hold still, use more light, or lay the pieces on a ground that differs more",
        ),
    }
