"""Codes of what reading pictures has to say, and the words of it: picture, reason, remedy."""

from __future__ import annotations

from nestyield.model import Finding
from nestyield.model.finding import Severity

#: Every code that this room gives out, with its rule in a few words.
CODES: dict[str, str] = {
    "V001": "the picture can be read",
    "V002": "enough markers are seen",
    "V003": "the markers lie as printed",
    "V004": "the picture is sharp",
    "V005": "pieces are seen",
    "V006": "pieces lie wholly in the picture",
    "V007": "the edges of pieces stand out from the ground",
    "V008": "the error estimate is within the limit",
    "V009": "the print was measured",
    "V010": "the grain is seen",
    "V011": "a scan has a resolution",
    "V012": "pictures of one piece are of one camera",
    "V013": "outlines have been traced",
    "V014": "the thickness hides no gap",
    "V015": "no edge of a piece runs along the edge of a sheet's paper",
    "V016": "the sides of pieces look as thick as the option says",
    "V017": "the thickness can be seen",
}


def tell(severity: Severity, code: str, message: str, picture: str = "", piece: str = "") -> Finding:
    """Return a finding about a picture, or about a piece in it."""
    if code not in CODES:
        raise KeyError(code)
    where = f"piece {piece}" if piece else ""
    return Finding(code=code, severity=severity, message=message, file=picture, where=where)
