"""The first door: plain functions from a shop folder to a plan on disk. The command line uses only these.

Everything else is imported inside the functions, so that a door that is not used costs nothing.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.model import AuditError, Finding, InputError, NestyieldError, Order, Shop
from nestyield.model.units import Units

if TYPE_CHECKING:
    import datetime

    from nestyield.bed.answer import FitAnswer
    from nestyield.model import Layout, Part, Piece, Plan
    from nestyield.photo.request import PhotoPiece, PhotoRequest
    from nestyield.planning.contents import RackContents
    from nestyield.planning.makeable import Makeable
    from nestyield.planning.needed import OrderNeed
    from nestyield.planning.patch import Patch
    from nestyield.planning.questions import Goes, Makers
    from nestyield.planning.remembered import Cache
    from nestyield.rackbook.copied import Copied
    from nestyield.rackbook.journal import Entry
    from nestyield.rackbook.nightly import Night
    from nestyield.rackbook.nights import Nights
    from nestyield.rackbook.take import Taken
    from nestyield.reference import Meaning
    from nestyield.wood.grading import BoardGrade

#: Called with what is being done, how much of it is done, and how much there is.
Progress = Callable[[str, int, int], None]


class UnknownNameError(NestyieldError, KeyError):
    """A name that the shop file does not have.

    Parameters
    ----------
    kind : str
        What was named, as ``part``.
    name : str
    known : sequence of str
        Names that there are.
    where : str
        What has them.
    """

    def __init__(self, kind: str, name: str, known: Sequence[str], where: str = "the shop file") -> None:
        near = get_close_matches(name, known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known) or 'none'}"
        self.message = f"{where} has no {kind} {name!r}; {hint}"
        super().__init__(self.message)

    def __str__(self) -> str:
        return self.message


def new_shop(folder: Path | str, units: Units = "mm", *, example: bool = False) -> list[Path]:
    """Write a new shop folder that checks clean and plans at once; never over a file that is there.

    Parameters
    ----------
    folder : path
        Made when missing.
    units : {"mm", "in"}
        Of the shop.
    example : bool
        A larger example shop instead of the small one with comments.

    Returns
    -------
    list of Path
        The files, sorted.

    Raises
    ------
    StartError
        When the folder holds a file of one of the names; nothing is written then.
    """
    from nestyield.starter import start_shop

    return start_shop(Path(folder), units, example)


def explain(word: str) -> tuple[Meaning, ...]:
    """Return what a word of the shop folder or of the output means.

    Parameters
    ----------
    word : str
        A key or section of the shop file, a column, wood, role, kind of defect, layer, or code of a finding.

    Raises
    ------
    UnknownWordError
        With the word that is probably meant.
    """
    from nestyield.reference import explain as explain_

    return explain_(word)


def explained_words() -> dict[str, list[str]]:
    """Return every word that ``explain`` knows, by kind."""
    from nestyield.reference import words

    return words()


def check_shop(folder: Path | str, changes: Sequence[str] = ()) -> tuple[Shop | None, tuple[Finding, ...]]:
    """Read a shop folder and return what was read and everything worth telling about it.

    Parameters
    ----------
    folder : path
        Holds ``shop.toml``.
    changes : sequence of str
        What if: keys of the shop file with other values, as ``"cutter.diameter=6"`` or
        ``"bed.little.travel_x=1/2 in"``; written and checked as in the file, which stays as it is.

    Returns
    -------
    (Shop or None, tuple of Finding)
        None when any finding is an error.
    """
    from nestyield.intake.shop import read_shop
    from nestyield.rackbook.reading import settled

    with settled(Path(folder)):
        return read_shop(Path(folder), changes)


def load_shop(folder: Path | str, changes: Sequence[str] = ()) -> Shop:
    """Read a shop folder.

    Parameters
    ----------
    folder : path
        Holds ``shop.toml``.
    changes : sequence of str
        As of `check_shop`.

    Raises
    ------
    InputError
        Carries every error found in the folder.
    """
    shop, findings = check_shop(folder, changes)
    if shop is None:
        raise InputError([f for f in findings if f.severity == "error"])
    return shop


def plan(
    shop: Shop | Path | str,
    *,
    seed: int | None = None,
    effort: int | None = None,
    seconds: float | None = None,
    workers: int | None = None,
    cluster: str = "",
    progress: Progress | None = None,
    cache: Cache | None = None,
) -> Plan:
    """Make a plan for all orders over all stock, and check it.

    Parameters
    ----------
    shop : Shop or path
        What to plan for; a path is read first.
    seed, effort, seconds, workers : int or float, optional
        Instead of the shop file's ``[search]``. Equal inputs, seed and effort give equal plans with any
        number of workers, unless ``seconds`` cuts the run short, which the plan then says.
    cluster : str
        Address of a Dask cluster that works in place of processes of one's own; the plan is the same.
    progress : callable, optional
        Called as ``progress(what, done, of)``.
    cache : Cache, optional
        Answers of earlier runs, as of `answers`; the answer is the same with it and without.

    Raises
    ------
    InputError
        When the folder cannot be used.
    AuditError
        When the finished plan fails its independent check.
    ClusterError
        When there is no such cluster.
    """
    findings: tuple[Finding, ...] = ()
    kept: tuple[Layout, ...] = ()
    if not isinstance(shop, Shop):
        folder = shop
        read, findings = check_shop(folder)
        if read is None:
            raise InputError([f for f in findings if f.severity == "error"])
        shop = read
        kept, let_go = _kept(folder, shop)
        findings += let_go
    return _plan(
        shop,
        findings,
        kept,
        seed=seed,
        effort=effort,
        seconds=seconds,
        workers=workers,
        cluster=cluster,
        progress=progress,
        cache=cache,
    )


def _kept(folder: Path | str, shop: Shop) -> tuple[tuple[Layout, ...], tuple[Finding, ...]]:
    """Return the blanks that a shop folder keeps, and a warning for each that no longer goes with it."""
    if not (Path(folder) / ".nestyield" / "kept.json").is_file():
        return (), ()
    from nestyield.rackbook.kept import read_kept, standing_kept

    return standing_kept(shop, read_kept(Path(folder)))


def _plan(
    shop: Shop,
    findings: tuple[Finding, ...],
    kept: tuple[Layout, ...],
    *,
    seed: int | None = None,
    effort: int | None = None,
    seconds: float | None = None,
    workers: int | None = None,
    cluster: str = "",
    progress: Progress | None = None,
    cache: Cache | None = None,
) -> Plan:
    from nestyield.planning.kept import plan_around
    from nestyield.planning.run import make_plan

    settings = shop.settings
    return plan_around(
        shop,
        kept,
        lambda rest: make_plan(
            rest,
            findings,
            seed=settings.seed if seed is None else seed,
            effort=settings.effort if effort is None else effort,
            seconds=settings.seconds if seconds is None else seconds,
            workers=settings.workers if workers is None else workers,
            cluster=cluster,
            progress=progress,
            cache=cache,
        ),
    )


@contextmanager
def answers() -> Iterator[Cache | None]:
    """Give the answers that commands keep between runs; None where none are to be kept.

    They lie in the user's cache folder, or in the folder that the environment names (``NESTYIELD_ANSWERS``;
    empty: none). The folder may be deleted at any time; it grows to a limit, then what was used longest ago
    goes.
    """
    from nestyield.rackbook.cache import AnswerCache, answers_folder

    folder = answers_folder()
    if folder is None:
        yield None
        return
    cache = AnswerCache(folder)
    try:
        yield cache
    finally:
        cache.trim()


def write_plan(plan: Plan, out: Path | str, workers: int = 1) -> list[Path]:
    """Write a plan and all its papers into a folder, whole or not at all.

    Parameters
    ----------
    plan : Plan
    out : path
        A new or empty folder, or one that holds an earlier plan and nothing that was added or changed
        since; that one is replaced.
    workers : int
        Processes; they change nothing but the time.

    Returns
    -------
    list of Path
        The files, sorted.

    Raises
    ------
    OutputError
        When the folder holds something that would be lost.
    """
    from nestyield.papers import shared_by
    from nestyield.paperwork.write import write_all
    from nestyield.planfile import dumps
    from nestyield.planfile.folder import replace_folder

    text = dumps(plan)
    with replace_folder(Path(out)) as folder:
        (folder / "plan.json").write_bytes(text)
        write_all(plan, folder, shared_by(workers))
    return sorted(p for p in Path(out).rglob("*") if p.is_file())


def check_out(out: Path | str) -> None:
    """Refuse an output folder before any work is done.

    Raises
    ------
    OutputError
        As in `write_plan`.
    """
    from nestyield.planfile.folder import check_replaceable

    check_replaceable(Path(out))


def needs_person(plan: Plan) -> bool:
    """Tell whether a plan holds anything that a person should look at before cutting."""
    from nestyield.paperwork.notices import plan_findings

    return any(f.severity != "note" for f in plan_findings(plan))


def fit(shop: Shop | Path | str, part: str, bed: str | None = None) -> FitAnswer:
    """Tell whether a part goes on the beds, along X and along Y, and the least travel that would do.

    Parameters
    ----------
    shop : Shop or path
    part : str
        Name of a part of the shop file.
    bed : str, optional
        Only this bed; left out, every bed.

    Raises
    ------
    UnknownNameError
        When there is no such part or bed; the message names the nearest.
    """
    from nestyield.bed.fit import part_fit

    if not isinstance(shop, Shop):
        shop = load_shop(shop)
    found = _part_asked(shop, part)
    names = _beds_asked(shop, bed)
    asked = tuple(b for b in shop.beds if b.name in names)
    return part_fit(found, asked, shop.settings, units=shop.units)


def goes(
    shop: Shop | Path | str, part: str, piece: str, bed: str | None = None, cache: Cache | None = None
) -> Goes:
    """Tell whether a part goes on a piece of the rack and on a bed, where and which way; if not, why.

    Parameters
    ----------
    shop : Shop or path
    part, piece : str
        Names of the shop file and of the rack.
    bed : str, optional
        Only this bed; left out, any bed.
    cache : Cache, optional
        Answers of earlier runs, as of `answers`; the answer is the same with it and without.

    Raises
    ------
    UnknownNameError
        When there is no such part, piece or bed; the message names the nearest.
    """
    from nestyield.planning.questions import part_on_piece

    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    beds = _beds_asked(shop, bed)
    return part_on_piece(shop, _part_asked(shop, part), _piece_asked(shop, piece), beds, cache)


def picture(shop: Shop | Path | str, answer: Goes, file: Path | str, bed: str | None = None) -> None:
    """Draw where a part lies on a piece: defects, datum, measures, room to move, pins and screws.

    Parameters
    ----------
    shop : Shop or path
        As it was asked.
    answer : Goes
        Of `goes`; its part must go on the piece.
    file : path
        ``.svg`` or ``.pdf``; an earlier picture of this kind is replaced.
    bed : str, optional
        Only this bed; left out, any bed.

    Raises
    ------
    PictureError
        When the file is of another kind, or is there and is no such picture.
    """
    from nestyield.model import Plan
    from nestyield.paperwork.piece_picture import check_picture, write_picture
    from nestyield.planning.questions import layout_of

    check_picture(Path(file))
    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    if answer.maker is None:
        raise NestyieldError(f"{answer.part} does not go on {answer.piece}: there is nothing to draw")
    layout = layout_of(shop, answer.maker, _beds_asked(shop, bed))
    plan = Plan(shop=shop, seed=0, effort=0, layouts=(layout,), orders=())
    write_picture(Path(file), plan, layout)


def pieces(shop: Shop | Path | str, part: str, bed: str | None = None, cache: Cache | None = None) -> Makers:
    """Find pieces and glue-ups of the rack that would make a part, the cheapest first, and why others do not.

    Parameters
    ----------
    shop : Shop or path
    part : str
    bed : str, optional
        Only this bed; left out, any bed.
    cache : Cache, optional
        Answers of earlier runs, as of `answers`; the answer is the same with it and without.

    Raises
    ------
    UnknownNameError
        When there is no such part or bed; the message names the nearest.
    """
    from nestyield.planning.questions import pieces_for

    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    return pieces_for(shop, _part_asked(shop, part), _beds_asked(shop, bed), cache)


def patch(shop: Shop | Path | str, part: str, damage: str) -> Patch:
    """Tell how a damaged place of a part is cut away straight, and which piece of the rack gives the patch.

    Parameters
    ----------
    shop : Shop or path
    part : str
    damage : str
        ``120,45 30x12``: middle from the left and lower end of the part as drawn, length and width; one size
        for a round one.

    Raises
    ------
    UnknownNameError
        When there is no such part; the message names the nearest.
    DamageError
        When the text is no damaged place, or it does not meet the part.
    AuditError
        When the cut fails its independent check.
    """
    from nestyield.audit.patch import check_patch
    from nestyield.intake.damage import DamageError, parse_damage
    from nestyield.planning.patch import BEYOND_MM, OFF_GRAIN_DEG, SPARED_MM, meets, patched

    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    asked = _part_asked(shop, part)
    place = parse_damage(damage, asked, shop.units)
    if not meets(asked, place):
        raise DamageError(f"expected a damaged place on {asked.name}, got one beside it: {damage[:40]!r}")
    found = patched(shop, asked, place)
    if found.cut is not None:
        wrong = check_patch(
            asked,
            place,
            found.cut,
            spared_mm=SPARED_MM,
            beyond_mm=BEYOND_MM,
            off_deg=OFF_GRAIN_DEG,
        )
        if wrong:
            raise AuditError(wrong)
    return found


def patch_picture(shop: Shop | Path | str, answer: Patch, file: Path | str) -> None:
    """Draw how a damaged place is patched: a figure as SVG, or a sheet to work from as PDF.

    Parameters
    ----------
    shop : Shop or path
        As it was asked.
    answer : Patch
        Of `patch`; there must be a cut.
    file : path
        ``.svg`` or ``.pdf``; an earlier picture of this kind is replaced.

    Raises
    ------
    PictureError
        When the file is of another kind, or is there and is no such picture.
    """
    from nestyield.paperwork.patch_sheet import write_patch

    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    if answer.cut is None:
        raise NestyieldError(f"no straight cut patches {answer.part}: there is nothing to draw")
    makers = () if answer.wood is None else answer.wood.makers
    piece = shop.piece(makers[0].pieces[0]) if makers else None
    part = _part_asked(shop, answer.part)
    write_patch(Path(file), shop, part, answer.damage, answer.cut, piece, answer.in_the_way)


def rack(shop: Shop | Path | str) -> RackContents:
    """Add up what is in the rack and what it is worth, by species.

    Parameters
    ----------
    shop : Shop or path
    """
    from nestyield.planning.contents import rack_contents

    return rack_contents(shop if isinstance(shop, Shop) else load_shop(shop))


def copy_rack(shop: Path | str, to: str) -> Copied:
    """Copy the rack and defect tables of a shop folder into a database, or out of it into files.

    Parameters
    ----------
    shop : path
        Must be in order; its shop file stays as it is.
    to : str
        A SQLite file (``rack.sqlite``), the URL of a database with ``${NAME}`` for its password, or a new
        folder for ``rack.csv`` and ``defects.csv``.

    Raises
    ------
    InputError
        When the shop folder cannot be used.
    NestyieldError
        When a table or folder is there already, or cannot be written; nothing is written then.
    """
    from nestyield.rackbook.copied import copy_rack as copy
    from nestyield.rackbook.copied import table_names

    units = load_shop(shop).units
    return copy(Path(shop), table_names(Path(shop)), units, to)


def make(
    shop: Shop | Path | str,
    parts: Sequence[str] = (),
    bed: str | None = None,
    cache: Cache | None = None,
) -> Makeable:
    """Tell what could be made from the rack as it is: copies of each part by itself, and good mixtures.

    Parameters
    ----------
    shop : Shop or path
        Its orders do not matter, but for the sets that they make up.
    parts : sequence of str
        Only these; empty: all.
    bed : str, optional
        Only this bed; left out, any bed.
    cache : Cache, optional
        Answers of earlier runs, as of `answers`; the answer is the same with it and without.

    Raises
    ------
    UnknownNameError
        When there is no such part or bed; the message names the nearest.
    """
    from nestyield.planning.makeable import makeable

    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    asked = [_part_asked(shop, name) for name in dict.fromkeys(parts)] or list(shop.parts)
    return makeable(shop, asked, _beds_asked(shop, bed), cache)


def marker_sheets(out: Path | str, *, first: int = 1, count: int = 4, paper: str = "a4") -> None:
    """Write marker sheets to print, for photos of pieces; never over a file that is there.

    Parameters
    ----------
    out : path
        A new PDF file.
    first, count : int
        Sheets differ, so that several lie side by side: number of the first one, 1 to 24, and how many.
    paper : {"a4", "letter"}

    Raises
    ------
    NestyieldError
        When there is no such sheet, or the file is there; MissingExtraError when OpenCV is not installed.
    """
    from nestyield.photo.sheet import marker_sheets as make

    data = make(first, count, paper)
    try:
        with Path(out).open("xb") as file:
            file.write(data)
    except FileExistsError:
        raise NestyieldError(f"{out} is there already, nothing was written; choose a new file") from None


def read_photos(
    request: PhotoRequest, out: Path | str | None = None, into: Path | str | None = None
) -> tuple[list[PhotoPiece], list[Path], list[Finding]]:
    """Read pieces from photos or scans, and write them into a new folder, or into the rack of a shop, too.

    Parameters
    ----------
    request : PhotoRequest
    out : path, optional
        New or empty; left out, nothing is written.
    into : path, optional
        A shop folder: rows are added to its rack and defect table, under its own headings, as one change that
        `undo` takes back.

    Returns
    -------
    (list of PhotoPiece, list of Path, list of Finding)
        Pieces, files written, and what a person should know.

    Raises
    ------
    InputError
        When a picture cannot be used or may be off by more than the limit; nothing is written then.
    NestyieldError
        When the folder holds anything, or the rows cannot be added; MissingExtraError when OpenCV is not
        installed.
    """
    from nestyield.photo.read import read_photos as read
    from nestyield.photo.write import check_new, write_photos

    if out is not None:
        check_new(Path(out))
    pieces, scenes, findings = read(request)
    files = [] if out is None else write_photos(Path(out), pieces, scenes, request)
    if into is not None:
        try:
            _add_photos(pieces, request, Path(into))
        except BaseException:
            if out is not None:  # written just now, and new
                shutil.rmtree(out, ignore_errors=True)
            raise
    return pieces, files, findings


def need(
    shop: Shop | Path | str,
    orders: Sequence[str] = (),
    want: Sequence[str] = (),
    cache: Cache | None = None,
) -> tuple[OrderNeed, ...]:
    """Tell what the rack lacks for orders, and what board or sheet to buy for it, without a plan.

    Parameters
    ----------
    shop : Shop or path
    orders : sequence of str
        Only these orders, and the rest of their sets; empty: all that are not on hold.
    want : sequence of str
        In place of the shop's orders: ``"mandolin=5"``, a part and how many.
    cache : Cache, optional
        Answers of earlier runs, as of `answers`; the answer is the same with it and without.

    Raises
    ------
    UnknownNameError
        When there is no such order or part; the message names the nearest.
    NestyieldError
        When a want is no part and whole number.
    """
    import dataclasses

    from nestyield.planning.needed import needed

    shop = shop if isinstance(shop, Shop) else load_shop(shop)
    known = {o.name: o for o in shop.orders}
    for name in orders:
        if name not in known:
            raise UnknownNameError("order", name, list(known))
    named = {known[name].set for name in orders} - {""}
    rest = [o.name for o in shop.orders if o.set in named]
    asked = [known[name] for name in dict.fromkeys([*orders, *rest])] or list(shop.orders)
    if want:
        asked = [_wanted(shop, text) for text in want]
    return needed(dataclasses.replace(shop, orders=tuple(asked)), cache)


def _wanted(shop: Shop, text: str) -> Order:
    part, _, count = text.rpartition("=")
    if not count.strip().isdecimal() or not 1 <= int(count) <= 100_000:
        raise NestyieldError(f"expected PART=N such as {shop.parts[0].name}=3, got {text!r}")
    found = _part_asked(shop, part.strip())
    return Order(name=found.name, part=found.name, count=int(count))


def _part_asked(shop: Shop, name: str) -> Part:
    found = {p.name: p for p in shop.parts}
    if name not in found:
        raise UnknownNameError("part", name, list(found))
    return found[name]


def _piece_asked(shop: Shop, name: str) -> Piece:
    found = {p.name: p for p in shop.pieces}
    if name not in found:
        raise UnknownNameError("piece", name, list(found), where="the rack")
    return found[name]


def _beds_asked(shop: Shop, name: str | None) -> tuple[str, ...]:
    beds = tuple(b.name for b in shop.beds)
    if name is not None and name not in beds:
        raise UnknownNameError("bed", name, beds)
    return beds if name is None else (name,)


def grade(shop: Shop | Path | str, pieces: Sequence[str] = ()) -> tuple[BoardGrade, ...]:
    """Grade the boards of the rack by the NHLA summary charts.

    Parameters
    ----------
    shop : Shop or path
    pieces : sequence of str
        Only these; empty: every board that is not taken. Sheets and glued-up pieces are no boards.
        Below grade, cuttings are at least as large as the shop's least leftover.

    Raises
    ------
    UnknownNameError
        When there is no such piece; the message names the nearest.
    """
    from nestyield.wood.grading import grade_board, is_board

    if not isinstance(shop, Shop):
        shop = load_shop(shop)
    known = [p.name for p in shop.pieces]
    for name in pieces:
        if name not in known:
            raise UnknownNameError("piece", name, known)
    asked = [p for p in shop.pieces if (p.name in pieces if pieces else p.status != "taken")]
    least = (shop.settings.leftover_shortest_mm, shop.settings.leftover_narrowest_mm)
    return tuple(grade_board(p, least) for p in asked if is_board(p) and p.count)


def verify(folder: Path | str, shop: Path | str | None = None) -> tuple[Finding, ...]:
    """Check a plan on disk, independently of the search that made it.

    Parameters
    ----------
    folder : path
        Holds ``plan.json``.
    shop : path, optional
        Also compare the plan's inputs with this shop folder as it is now.

    Returns
    -------
    tuple of Finding
        Empty when the plan holds.
    """
    from nestyield.audit.check import verify_dir

    if shop is None:
        return verify_dir(Path(folder))
    from nestyield.rackbook.booked import booked_of

    return verify_dir(Path(folder), Path(shop), booked_of(Path(folder), Path(shop)))


def _add_photos(pieces: Sequence[PhotoPiece], request: PhotoRequest, shop: Path) -> None:
    from nestyield.photo.write import note_of, shape_of
    from nestyield.rackbook.add import AddedPiece, add_pieces

    added = [
        AddedPiece(
            name=piece.name,
            species=request.species,
            thickness_mm=request.thickness_mm,
            shape=shape_of(piece.written),
            grain_deg=piece.grain.angle_deg if piece.grain.seen else None,
            note=note_of(piece),
            defects=tuple((kind, shape_of(shape)) for kind, shape in piece.defects),
        )
        for piece in pieces
    ]
    add_pieces(shop, added)


def take(folder: Path | str, shop: Path | str, blanks: Sequence[str] = (), *, orders: bool = True) -> Taken:
    """Book blanks of a plan: used pieces out of the rack, leftovers and their defects in.

    Parameters
    ----------
    folder : path
        Holds ``plan.json``.
    shop : path
        The shop folder.
    blanks : sequence of str
        Names of blanks; none means all of the plan.
    orders : bool
        Whether the counts of the orders in the shop file go down by what was cut.

    Raises
    ------
    RackbookError
        When a row that the blanks use has changed since, when the folder is locked, or when there is no
        such blank; nothing is written then.
    """
    from nestyield.rackbook.take import take as take_

    return take_(Path(folder), Path(shop), blanks, orders=orders)


def undo(shop: Path | str, entry: int | None = None) -> Entry:
    """Take back the last booking of a shop folder that stands, or a certain entry of its journal.

    Raises
    ------
    RackbookError
        When there is none, or when what it wrote was changed since.
    """
    from nestyield.rackbook.undo import undo as undo_

    return undo_(Path(shop), entry)


def keep(
    folder: Path | str, shop: Path | str, blanks: Sequence[str] = (), *, way: int = 0
) -> tuple[str, ...]:
    """Keep blanks of a plan: later plans leave them as they are.

    Parameters
    ----------
    folder : path
        Holds ``plan.json``.
    shop : path
    blanks : sequence of str
        Names of blanks; none means all of the plan.
    way : int
        Keep the one blank's other way of this number instead, as the report numbers them; 0 for its own.

    Returns
    -------
    tuple of str
        All blanks that are now kept.
    """
    from nestyield.rackbook.kept import keep as keep_

    return keep_(Path(folder), Path(shop), blanks, way=way)


def release(shop: Path | str, blanks: Sequence[str] = ()) -> tuple[str, ...]:
    """Let kept blanks go, all for none; return their names."""
    from nestyield.rackbook.kept import release as release_

    return release_(Path(shop), blanks)


def kept(shop: Path | str) -> tuple[str, ...]:
    """Return the names of the blanks that a shop folder keeps."""
    from nestyield.rackbook.kept import read_kept

    return tuple(plan.layouts[0].blank.name for plan in read_kept(Path(shop)))


def nightly(
    shop: Path | str,
    runs: Path | str,
    date: datetime.date,
    *,
    keep_last: int | None = None,
    workers: int | None = None,
    cluster: str = "",
) -> Night:
    """Plan a shop by schedule: only what changed is planned again; each run has its dated folder.

    Parameters
    ----------
    shop : path
    runs : path
        Folder of the runs; made when missing.
    date : date
        Names the run's folder and is used for nothing else.
    keep_last : int, optional
        How many runs stay; left out, all.
    workers : int, optional
        Processes, instead of the shop file's.
    cluster : str
        As of `plan`.

    Raises
    ------
    InputError
        When the shop folder cannot be used; nothing is written then.
    RackbookError
        When another run is at work on the same runs folder.
    """
    from nestyield.papers import shared_by
    from nestyield.paperwork.write import write_all
    from nestyield.planning.remembered import code_digest
    from nestyield.rackbook.nightly import nightly as nightly_

    read, findings = check_shop(shop)
    if read is None:
        raise InputError([f for f in findings if f.severity == "error"])
    layouts, let_go = _kept(shop, read)
    return nightly_(
        read,
        (*findings, *let_go),
        Path(runs),
        date,
        make=lambda shop, cache: _plan(shop, (), layouts, workers=workers, cluster=cluster, cache=cache),
        write=lambda plan, folder: write_all(
            plan, folder, shared_by(read.settings.workers if workers is None else workers)
        ),
        basis=f"{code_digest()} {layouts!r}",
        keep_last=keep_last,
    )


def nights(
    shops: Path | str,
    runs: Path | str,
    date: datetime.date,
    *,
    keep_last: int | None = None,
    workers: int | None = None,
    cluster: str = "",
    crashed: Callable[[Path, Exception], object] = lambda shop, error: None,
) -> Nights | None:
    """Plan every shop of a folder by schedule, as `nightly` does each, and write one page that tells of all.

    Parameters
    ----------
    shops : path
        Each folder right below it that holds a shop file is a shop.
    runs : path
        Gets a folder of runs for each shop, ``index.html`` and ``index.json``; made when missing.
    date : date
    keep_last, workers, cluster
        As of `nightly`.
    crashed : callable
        Called with a shop folder and the error where the program itself failed; the other shops go on.

    Returns
    -------
    Nights or None
        None when ``shops`` is a shop folder itself, or holds none.

    Raises
    ------
    OutputError
        When the page would be written over another file.
    """
    from nestyield.rackbook.nights import nights as nights_
    from nestyield.rackbook.nights import shops_in

    found = shops_in(Path(shops))
    if not found:
        return None
    return nights_(
        found,
        Path(runs),
        date,
        plan=lambda shop, own: nightly(
            shop, own, date, keep_last=keep_last, workers=workers, cluster=cluster
        ),
        needs_person=lambda night: needs_person(night.plan),
        crashed=crashed,
    )
