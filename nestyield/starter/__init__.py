"""Starts a shop folder: files of a small shop that plans as it is, or of one of the larger examples."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

from nestyield.model import NestyieldError
from nestyield.model.units import Units

#: Folder of ``fixtures`` with the example, by its units; in the wheel it is ``example/UNITS`` here.
EXAMPLES: dict[Units, str] = {"mm": "demo-shop", "in": "inch-shop"}


class StartError(NestyieldError, OSError):
    """The folder cannot be started without touching what is in it."""


def starter_files(units: Units, example: bool = False) -> dict[str, bytes]:
    """Return the files of a new shop folder.

    Parameters
    ----------
    units : {"mm", "in"}
    example : bool
        The larger example shop instead of the small one.

    Returns
    -------
    dict of str to bytes
        By name, sorted.
    """
    here = files("nestyield.starter")
    place = here.joinpath(units)
    if example:
        place = here.joinpath("example", units)
        if not place.is_dir():  # in the source tree the examples are the fixtures
            place = Path(__file__).parents[2] / "fixtures" / EXAMPLES[units]
    found = {p.name: p.read_bytes() for p in place.iterdir() if p.is_file()}
    return dict(sorted(found.items()))


def start_shop(folder: Path, units: Units, example: bool = False) -> list[Path]:
    """Write a new shop folder, all of its files or none; never over a file that is there.

    Parameters
    ----------
    folder : Path
        Made when missing. It may hold other files.
    units : {"mm", "in"}
    example : bool
        The larger example shop instead of the small one.

    Returns
    -------
    list of Path
        The files, sorted.

    Raises
    ------
    StartError
        When the folder is a file, or holds a file of one of the names.
    """
    if folder.exists() and not folder.is_dir():
        raise StartError(f"{folder} is a file; expected a new folder for the shop")
    data = starter_files(units, example)
    there = [name for name in data if os.path.lexists(folder / name)]
    if there:
        verb = "is" if len(there) == 1 else "are"
        raise StartError(
            f"{', '.join(there)} {verb} already in {folder}, nothing was written; choose a new folder"
        )
    made = [p for p in (folder, *folder.parents) if not p.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    try:
        for name, content in data.items():
            with (folder / name).open("xb") as file:
                written.append(folder / name)
                file.write(content)
    except OSError as error:
        for path in written:
            path.unlink(missing_ok=True)
        for path in made:
            path.rmdir()
        if isinstance(error, FileExistsError):
            raise StartError(f"{error.filename} appeared meanwhile; nothing was written") from None
        raise
    return written
