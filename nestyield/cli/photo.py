"""Read odd pieces from photos with printed marker sheets, or from a scan, into rows for the rack.

nestyield photo --sheets markers.pdf                                   print this, at 100 %
nestyield photo one.jpg --thickness 45 --species cherry --out pieces   then read photos
nestyield photo one.jpg --thickness 45 --species cherry --out pieces --into shop   and add rows to its rack

Needs the extra: pip install 'nestyield[photo]'. Writes a new folder: rack.csv, defects.csv, and each picture
with what was traced drawn over it, to check by eye. With --into the rows go into the shop's own tables as
well, under their headings; nestyield undo takes them back. A picture that may be off by more than the limit
is refused.
"""

from __future__ import annotations

import argparse
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.cli.exit_codes import DONE, NEEDS_PERSON
from nestyield.cli.numbers import positive_float, positive_int
from nestyield.cli.output import findings_data, for_reader, output_options, say_json, say_notes_left_out
from nestyield.cli.tell import say, say_findings
from nestyield.model import Finding, NestyieldError
from nestyield.words import Words

if TYPE_CHECKING:
    from nestyield.photo.request import PhotoPiece, PhotoRequest

_WHY = {
    "thickness": "measure it; the height of the upper face moves its edges in a picture",
    "species": "the rack needs it",
    "out": "name a new folder for what is read",
}
SUMMARY = "read odd pieces from photos or scans; print the marker sheets"


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    length = "in the unit of --units or with its own, as '1 3/4 in'"
    parser.add_argument("pictures", metavar="PICTURE", nargs="*", type=Path, help="photos or scans")
    parser.add_argument("--out", metavar="DIR", type=Path, help="a new folder for what is read")
    parser.add_argument(
        "--into", metavar="SHOP", type=Path, help="add the rows to the tables of this shop folder, too"
    )
    parser.add_argument("--thickness", metavar="L", help=f"thickness of the pieces, {length}")
    parser.add_argument("--species", metavar="S", help="species of the pieces")
    parser.add_argument(
        "--name", metavar="P", help="name of the piece, numbered for several [the first picture]"
    )
    parser.add_argument(
        "--together",
        action="store_true",
        help="all pictures show the same pieces and sheets, not moved",
    )
    parser.add_argument("--line-x", metavar="L", help="what the long line of the print measures [240 mm]")
    parser.add_argument("--line-y", metavar="L", help="what the short line of the print measures [160 mm]")
    parser.add_argument(
        "--limit",
        metavar="L",
        help="refuse what may be off by more [0.8 mm]",
    )
    parser.add_argument("--blue", metavar="KIND", default="knot", help="kind of defect in a blue ring [knot]")
    parser.add_argument(
        "--green",
        metavar="KIND",
        default="screw hole",
        help="kind of defect in a green ring [screw hole]",
    )
    parser.add_argument("--scan", action="store_true", help="the pictures are scans")
    parser.add_argument(
        "--dpi", metavar="N", type=positive_float, help="resolution of a scan [as in its file]"
    )
    parser.add_argument(
        "--units", choices=("mm", "in"), help="what a bare number means [mm; with --into as the shop's]"
    )
    parser.add_argument("--sheets", metavar="PDF", type=Path, help="write marker sheets to print")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="their paper [a4]")
    parser.add_argument("--first", metavar="K", type=positive_int, default=1, help="the first sheet [1]")
    parser.add_argument("--count", metavar="K", type=positive_int, default=4, help="how many [4]")
    output_options(parser)


def run(args: argparse.Namespace) -> int:
    """Print sheets, or read pictures and write the folder."""
    if args.sheets is not None:
        return _sheets(args)
    from nestyield import api

    if args.units is None:
        args.units = "mm" if args.into is None else api.load_shop(args.into).units
    request = _request(args)
    pieces, files, findings = api.read_photos(request, args.out, args.into)
    code = NEEDS_PERSON if any(f.severity == "warning" for f in findings) else DONE
    if args.json:
        say_json(
            ok=True,
            folder=str(args.out),
            into=None if args.into is None else str(args.into),
            pieces=[_data(p) for p in pieces],
            files=[p.name for p in files],
            findings=findings_data(findings),
        )
        return code
    say_findings(for_reader(findings, args), sys.stderr)
    if not args.quiet:
        _say(args, request, pieces, files, findings)
    return code


def _say(
    args: argparse.Namespace,
    request: PhotoRequest,
    pieces: list[PhotoPiece],
    files: list[Path],
    findings: list[Finding],
) -> None:
    words = Words(request.units)
    for piece in pieces:
        x0, y0, x1, y1 = piece.written.bounds
        grain = f"grain {words.angle(piece.grain.angle_deg)}" if piece.grain.seen else "grain not seen"
        if piece.grain.seen and args.verbose:
            grain += (
                f" (reliability {piece.grain.coherence:.2f}, within {words.angle(piece.grain.spread_deg)})"
            )
        error = words.length(piece.error_mm, style="fine", rounding="up")
        holes, defects = len(piece.written.interiors), len(piece.defects)
        say(
            f"{piece.name}: {words.size(x1 - x0, y1 - y0)}, {holes} {'hole' if holes == 1 else 'holes'}, "
            f"{defects} marked {'defect' if defects == 1 else 'defects'}, {grain}, may be off by {error}"
        )
        inside = piece.drawn_in_mm
        tape = words.size(
            x1 - x0 + 2 * inside, y1 - y0 + 2 * inside, style="coarse" if request.units == "mm" else "rule"
        )
        say(f"  drawn in by {words.length(inside, style='fine')} on every side; a tape reads about {tape}")
    if (hidden := max(p.hidden_mm for p in pieces)) > 1.0:
        narrow = words.length(hidden, style="coarse", rounding="up")
        say(f"Holes and slots narrower than {narrow} may be hidden by the thickness: ring them.")
    pictures = [p.name for p in files if p.suffix == ".jpg"]
    say(f"Check by eye: {', '.join(pictures)} in {shlex.quote(str(args.out))}")
    if args.into is None:
        say(
            "Then copy the cells of rack.csv and defects.csv into those of the shop, under the same headings;"
        )
        say("--into SHOP does that.")
    else:
        shop = shlex.quote(str(args.into))
        say(f"Rows added to the rack of {shop}; `nestyield undo {shop}` takes them back.")
    say_notes_left_out(findings, args)


def _data(piece: PhotoPiece) -> dict[str, object]:
    return {
        "piece": piece.name,
        "outline_mm": piece.written.wkt,
        "holes": len(piece.written.interiors),
        "defects": [{"kind": kind, "outline_mm": shape.wkt} for kind, shape in piece.defects],
        "grain_deg": round(piece.grain.angle_deg, 2) if piece.grain.seen else None,
        "grain_reliability": round(piece.grain.coherence, 3),
        "error_mm": round(piece.error_mm, 3),
        "hidden_holes_mm": round(piece.hidden_mm, 1),
        "place_mm_deg": [round(v, 3) for v in piece.place],
    }


def _request(args: argparse.Namespace) -> PhotoRequest:
    """Return what the options ask for.

    Raises
    ------
    NestyieldError
        When one is missing or cannot be.
    """
    from nestyield.intake.lengths import parse_length
    from nestyield.intake.tolerates import defect_kind
    from nestyield.model import DEFECT_KINDS
    from nestyield.photo.board import LINES_MM
    from nestyield.photo.request import LIMIT_MM, PhotoRequest

    if not args.pictures:
        raise NestyieldError("expected pictures to read, or --sheets FILE.pdf to print marker sheets")
    for option in ("thickness", "species", "out"):
        if getattr(args, option) is None:
            raise NestyieldError(
                f"{args.pictures[0].name}: expected --{option}, it is missing; {_WHY[option]}"
            )

    def length(option: str, low: float, high: float) -> float | None:
        text = getattr(args, option.replace("-", "_"))
        if text is None:
            return None
        value = parse_length(text, args.units)
        if not low <= value <= high:
            words = Words(args.units)
            least, most = (words.length(v, style="setting") for v in (low, high))
            raise NestyieldError(
                f"expected --{option} from {least} to {most}, got {text!r}; is the unit right?"
            )
        return value

    kinds = {}
    for color in ("blue", "green"):
        kind = defect_kind(getattr(args, color))
        if kind is None:
            known = ", ".join(DEFECT_KINDS)
            raise NestyieldError(
                f"--{color}: unknown kind of defect {getattr(args, color)!r}; known are {known}"
            )
        kinds[color] = kind
    thickness = length("thickness", 0.5, 150.0)
    assert thickness is not None
    lines = [length(f"line-{axis}", 0.97 * v, 1.03 * v) for axis, v in zip("xy", LINES_MM)]
    return PhotoRequest(
        pictures=tuple(args.pictures),
        thickness_mm=thickness,
        species=args.species,
        name=args.name or args.pictures[0].stem,
        together=args.together,
        scan=args.scan,
        dpi=args.dpi,
        lines_mm=(lines[0], lines[1]),
        limit_mm=length("limit", 0.05, 10.0) or LIMIT_MM,
        kinds=kinds,
        units=args.units,
    )


def _sheets(args: argparse.Namespace) -> int:
    from nestyield import api

    if args.pictures:
        raise NestyieldError("expected either pictures to read or --sheets, got both")
    api.marker_sheets(args.sheets, first=args.first, count=args.count, paper=args.paper)
    last = args.first + args.count - 1
    if args.json:
        say_json(ok=True, file=str(args.sheets), first=args.first, last=last, paper=args.paper)
    elif not args.quiet:
        say(f"Marker sheets {args.first} to {last} in {args.sheets}: print at 100 %, not fitted to the page.")
        say("Then measure the two thin lines, 240 mm and 160 mm, for --line-x and --line-y.")
    return DONE
