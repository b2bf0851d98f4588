"""The first door: plain functions from a shop folder to a plan on disk. The command line uses only these.

Everything else is imported inside the functions, so that a door that is not used costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from nestyield.model import Finding, InputError, NestyieldError, Plan, Shop

if TYPE_CHECKING:
    from nestyield.bed.answer import FitAnswer

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
    """

    def __init__(self, kind: str, name: str, known: Sequence[str]) -> None:
        near = get_close_matches(name, known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known) or 'none'}"
        self.message = f"the shop file has no {kind} {name!r}; {hint}"
        super().__init__(self.message)

    def __str__(self) -> str:
        return self.message


def check_shop(folder: Path | str) -> tuple[Shop | None, tuple[Finding, ...]]:
    """Read a shop folder and return what was read and everything worth telling about it.

    Parameters
    ----------
    folder : path
        Holds ``shop.toml``.

    Returns
    -------
    (Shop or None, tuple of Finding)
        None when any finding is an error.
    """
    from nestyield.intake.shop import read_shop

    return read_shop(Path(folder))


def load_shop(folder: Path | str) -> Shop:
    """Read a shop folder.

    Parameters
    ----------
    folder : path
        Holds ``shop.toml``.

    Raises
    ------
    InputError
        Carries every error found in the folder.
    """
    shop, findings = check_shop(folder)
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
    progress: Progress | None = None,
) -> Plan:
    """Make a plan for all orders over all stock, and check it.

    Parameters
    ----------
    shop : Shop or path
        What to plan for; a path is read first.
    seed, effort, seconds, workers : int or float, optional
        Instead of the shop file's ``[search]``. Equal inputs, seed and effort give equal plans with any
        number of workers, unless ``seconds`` cuts the run short, which the plan then says.
    progress : callable, optional
        Called as ``progress(what, done, of)``.

    Raises
    ------
    InputError
        When the folder cannot be used.
    AuditError
        When the finished plan fails its independent check.
    """
    from nestyield.planning.run import make_plan

    findings: tuple[Finding, ...] = ()
    if not isinstance(shop, Shop):
        folder = shop
        read, findings = check_shop(folder)
        if read is None:
            raise InputError([f for f in findings if f.severity == "error"])
        shop = read
    settings = shop.settings
    return make_plan(
        shop,
        findings,
        seed=settings.seed if seed is None else seed,
        effort=settings.effort if effort is None else effort,
        seconds=settings.seconds if seconds is None else seconds,
        workers=settings.workers if workers is None else workers,
        progress=progress,
    )


def write_plan(plan: Plan, out: Path | str) -> list[Path]:
    """Write a plan and all its papers into a folder, whole or not at all.

    Parameters
    ----------
    plan : Plan
    out : path
        A new or empty folder, or one that holds an earlier plan and nothing that was added or changed
        since; that one is replaced.

    Returns
    -------
    list of Path
        The files, sorted.

    Raises
    ------
    OutputError
        When the folder holds something that would be lost.
    """
    from nestyield.paperwork.write import write_all
    from nestyield.planfile import dumps
    from nestyield.planfile.folder import replace_folder

    text = dumps(plan)
    with replace_folder(Path(out)) as folder:
        (folder / "plan.json").write_bytes(text)
        write_all(plan, folder)
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
    return any(f.severity != "note" for f in plan.findings) or any(
        f.severity != "note" for layout in plan.layouts for f in layout.findings
    )


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
    parts = {p.name: p for p in shop.parts}
    beds = {b.name: b for b in shop.beds}
    if part not in parts:
        raise UnknownNameError("part", part, list(parts))
    if bed is not None and bed not in beds:
        raise UnknownNameError("bed", bed, list(beds))
    asked = shop.beds if bed is None else (beds[bed],)
    return part_fit(parts[part], asked, shop.settings, units=shop.units)


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

    return verify_dir(Path(folder), None if shop is None else Path(shop))
