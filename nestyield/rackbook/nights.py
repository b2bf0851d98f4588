"""Many shops by schedule: each as by itself, and one page that tells of all."""

from __future__ import annotations

import datetime
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from nestyield.intake.shop import SHOP_FILE
from nestyield.model import AuditError, InputError, NestyieldError
from nestyield.paperwork.nights_page import MARK, ShopNight, nights_page
from nestyield.planfile.folder import OutputError
from nestyield.planfile.text import canonical
from nestyield.rackbook.nightly import Night

#: The page of all shops, in the runs folder, and the same as data.
PAGE, DATA = "index.html", "index.json"
SCHEMA = "nestyield nights 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Nights:
    """What a scheduled run over many shops did.

    Parameters
    ----------
    page : Path
        The page of all shops.
    shops : tuple of ShopNight
        In the order of their folders' names.
    """

    page: Path
    shops: tuple[ShopNight, ...]


def shops_in(folder: Path) -> list[Path]:
    """Return the shop folders right below a folder, by name; none when it is a shop itself."""
    if (folder / SHOP_FILE).exists() or not folder.is_dir():
        return []
    return sorted(p for p in folder.iterdir() if p.name[:1] != "." and (p / SHOP_FILE).is_file())


def nights(
    shops: list[Path],
    runs: Path,
    date: datetime.date,
    plan: Callable[[Path, Path], Night],
    needs_person: Callable[[Night], bool],
    crashed: Callable[[Path, Exception], object],
) -> Nights:
    """Plan each shop into a folder of its own below ``runs``; one that fails does not cost the others.

    Parameters
    ----------
    shops : list of Path
    runs : Path
        Made when missing.
    date : date
    plan : callable
        ``plan(shop, runs)`` plans one shop.
    needs_person : callable
        Tells whether somebody should look at a run.
    crashed : callable
        Told of a fault of the program, for whoever mends it.

    Raises
    ------
    OutputError
        When the page would be written over a file that is none.
    """
    page = runs / PAGE
    _ours(page)
    runs.mkdir(parents=True, exist_ok=True)
    told: list[ShopNight] = []
    stopped = False
    for shop in shops:
        name = shop.name
        if stopped:
            told.append(ShopNight(folder=name, error="not planned: the run was stopped before"))
            continue
        try:
            night = plan(shop, runs / name)
        except (InputError, AuditError) as error:
            told.append(ShopNight(folder=name, findings=tuple(error.findings)))
        except (NestyieldError, OSError) as error:
            told.append(ShopNight(folder=name, error=" ".join(str(error).split())))
        except KeyboardInterrupt:
            stopped = True
            told.append(ShopNight(folder=name, error="not planned: the run was stopped"))
        except Exception as error:
            crashed(shop, error)
            message = f"a fault of the program: {type(error).__name__}: {' '.join(str(error).split())[:200]}"
            told.append(ShopNight(folder=name, error=message))
        else:
            stopped = night.plan.stopped == "interrupt"
            told.append(
                ShopNight(
                    folder=name,
                    run=f"{name}/{night.folder.name}",
                    plan=night.plan,
                    news=night.news,
                    stay=night.stay,
                    needs_person=needs_person(night),
                )
            )
    _put(page, nights_page(told, date))
    data = {"schema": SCHEMA, "date": date.isoformat(), "shops": [t.to_data() for t in told]}
    _put(runs / DATA, canonical(data) + "\n")
    return Nights(page=page, shops=tuple(told))


def _ours(page: Path) -> None:
    try:
        text = page.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return
    if MARK not in text:
        raise OutputError(f"{page} is not such a page and would be lost: choose another folder for the runs")


def _put(file: Path, text: str) -> None:
    """Write a file whole or not at all."""
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}-")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
        os.chmod(name, 0o644)
        os.replace(name, file)
    except BaseException:
        os.unlink(name)
        raise
