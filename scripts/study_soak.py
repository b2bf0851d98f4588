"""Hundreds of nights in a row on a rack that changes by day: does anything grow, and is the book true?

    python scripts/study_soak.py [--nights 300] [--seed 1] [--keep-last 5]

A new shop (`nestyield new`) is planned every night in one process. By day, at random: a blank is cut (take), a take is
undone, a board is delivered, a thickness is measured again, a row is put on hold or freed, orders come in, a blank is kept
or let go. A ledger of the study's own, from the plans alone, says what the rack table must hold after each day. Told
every 25 nights: memory of the process, files and bytes of runs, cache and journal.
"""

from __future__ import annotations

import argparse
import csv
import datetime
import os
import random
import re
import resource
import sys
import tempfile
from collections import Counter
from pathlib import Path

os.environ["NESTYIELD_ANSWERS"] = ""

from nestyield import api
from nestyield.model import Plan
from nestyield.model.errors import NestyieldError
from nestyield.planfile import loads
from nestyield.starter import starter_files

FIRST = datetime.date(2027, 1, 1)


def rows(shop: Path) -> dict[str, dict[str, str]]:
    """Return the rows of the rack by name, read with csv alone."""
    with (shop / "rack.csv").open(encoding="utf-8", newline="") as file:
        lines = [line for line in file if not line.startswith("#") and line.strip()]
    return {row["piece"]: row for row in csv.DictReader(lines)}


def free(row: dict[str, str]) -> int:
    """Return how many copies of a row are there."""
    return 0 if row["status"] == "taken" else int(row["count"] or 1)


def size(folder: Path) -> tuple[int, int]:
    """Return how many files a folder holds, and their bytes."""
    files = [p for p in folder.rglob("*") if p.is_file()] if folder.exists() else []
    return len(files), sum(p.stat().st_size for p in files)


class Days:
    """What happens by day, and what the rack must hold then.

    Parameters
    ----------
    shop : Path
    rng : random.Random
    """

    def __init__(self, shop: Path, rng: random.Random) -> None:
        self.shop, self.rng = shop, rng
        self.ledger = {name: free(row) for name, row in rows(shop).items()}
        self.done: list[tuple[Counter[str], tuple[str, ...]]] = []
        self.counts: Counter[str] = Counter()
        self.boards = 0

    def day(self, run: Path | None) -> None:
        """Do two things, each a random one."""
        for _ in range(2):
            what = self.rng.choice(
                ["take", "take", "undo", "deliver", "deliver", "measure", "hold", "order", "keep"]
            )
            try:
                if getattr(self, what)(run):
                    self.counts[what] += 1
            except NestyieldError as error:
                self.counts[f"{what} refused"] += 1
                if "changed since" not in str(error) and "plan again" not in str(error):
                    self.counts[f"{what}: {re.sub(r'[0-9]+', 'N', str(error))[:90]}"] += 1

    def take(self, run: Path | None) -> bool:
        if run is None:
            return False
        plan = loads((run / "plan.json").read_bytes())
        names = [
            x.blank.name
            for x in plan.layouts
            if x.blank.name not in {b for s in plan.sawings for b in s.blanks}
        ]
        if not names:
            return False
        name = self.rng.choice(names)
        taken = api.take(run, self.shop, [name])
        used = self._used(plan, name)
        for piece, n in used.items():
            self.ledger[piece] -= n
        self.ledger |= dict.fromkeys(taken.entry.leftovers, 1)
        self.done.append((used, taken.entry.leftovers))
        return True

    @staticmethod
    def _used(plan: Plan, name: str) -> Counter[str]:
        (layout,) = [x for x in plan.layouts if x.blank.name == name]
        return Counter(piece for piece, _ in set(layout.blank.copies))

    def undo(self, run: Path | None) -> bool:
        if not self.done or self.rng.random() < 0.5:
            return False
        api.undo(self.shop)
        used, leftovers = self.done.pop()
        for piece, n in used.items():
            self.ledger[piece] += n
        for name in leftovers:
            del self.ledger[name]
        return True

    def deliver(self, run: Path | None) -> bool:
        rng = self.rng
        self.boards += 1
        name = f"N-{self.boards}"
        text = (self.shop / "rack.csv").read_text(encoding="utf-8")
        head = next(line for line in text.splitlines() if line.startswith("piece"))
        cells = dict.fromkeys(head.split(","), "")
        cells |= {
            "piece": name,
            "species": rng.choice(["sugar maple", "black cherry", "black walnut"]),
            "thickness_mm": rng.choice(["22", "44.5", "48"]),
            "length_mm": str(rng.randrange(300, 900)),
            "width_mm": str(rng.randrange(90, 260)),
            "count": "1",
            "status": "ready",
        }
        end = "" if text.endswith("\n") else "\n"
        (self.shop / "rack.csv").write_text(f"{text}{end}{','.join(cells.values())}\n", encoding="utf-8")
        self.ledger[name] = 1
        return True

    def measure(self, run: Path | None) -> bool:
        return self._changed(
            lambda name: name.startswith("N-"), "thickness_mm", self.rng.choice(["43.5", "44", "47"])
        )

    def hold(self, run: Path | None) -> bool:
        return self._changed(lambda name: name.startswith("N-"), "status", self.rng.choice(["hold", "ready"]))

    def _changed(self, fits: object, column: str, value: str) -> bool:
        there = rows(self.shop)
        names = [n for n in there if n.startswith("N-") and "-a" not in n and there[n]["status"] != "taken"]
        if not names:
            return False
        name = self.rng.choice(names)
        text = (self.shop / "rack.csv").read_text(encoding="utf-8")
        lines = text.splitlines(keepends=True)
        head = next(line for line in lines if line.startswith("piece")).strip().split(",")
        (k,) = [i for i, line in enumerate(lines) if line.startswith(f"{name},")]
        cells = next(csv.reader([lines[k]]))
        cells[head.index(column)] = value
        lines[k] = ",".join(cells) + "\n"
        (self.shop / "rack.csv").write_text("".join(lines), encoding="utf-8")
        return True

    def order(self, run: Path | None) -> bool:
        text = (self.shop / "shop.toml").read_text(encoding="utf-8")
        text = re.sub(r"(?m)^done = true.*\n", "", text)
        text = re.sub(r"(?m)^count = \d+", lambda m: f"count = {self.rng.randrange(1, 4)}", text)
        (self.shop / "shop.toml").write_text(text, encoding="utf-8")
        return True

    def keep(self, run: Path | None) -> bool:
        kept = api.kept(self.shop)
        if kept and self.rng.random() < 0.7:
            api.release(self.shop, kept[:1])
            return True
        if run is None:
            return False
        plan = loads((run / "plan.json").read_bytes())
        names = [x.blank.name for x in plan.layouts]
        return bool(names and api.keep(run, self.shop, [self.rng.choice(names)]))

    def wrong(self) -> list[str]:
        """Return where the rack is not what the ledger says."""
        there = {name: free(row) for name, row in rows(self.shop).items()}
        return [
            f"{n}: {there.get(n)} there, {k} by the ledger"
            for n, k in self.ledger.items()
            if there.get(n) != k
        ] + [f"{n}: not in the ledger" for n in there if n not in self.ledger]


def main() -> int:
    """Run the nights, and tell what grows."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--nights", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep-last", type=int, default=5)
    args = parser.parse_args()
    bad = reused = 0
    with tempfile.TemporaryDirectory() as room:
        shop, runs = Path(room) / "shop", Path(room) / "runs"
        for name, data in starter_files("mm", example=False).items():
            (shop / name).parent.mkdir(parents=True, exist_ok=True)
            (shop / name).write_bytes(data)
        days = Days(shop, random.Random(args.seed))
        run: Path | None = None
        for night in range(1, args.nights + 1):
            days.day(run)
            for what in days.wrong():
                bad += 1
                print(f"night {night}: {what}", flush=True)
            made = api.nightly(
                shop, runs, FIRST + datetime.timedelta(days=night), keep_last=args.keep_last, workers=1
            )
            run, reused = made.folder, reused + made.reused
            failed = [f for f in api.verify(run, shop) if f.severity == "error"]
            bad += bool(failed)
            if failed:
                print(f"night {night}: {failed[0]}", flush=True)
            if night % 25 == 0 or night == args.nights:
                memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
                files, disk = size(runs)
                cached, cache = size(runs / ".nightly")
                book, journal = size(shop / ".nestyield")
                used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
                print(
                    f"night {night}: {memory:.0f} MB at most, runs {files} files {disk / 1e6:.1f} MB (cache {cached}, "
                    f"{cache / 1e6:.1f} MB), book {book} files {journal / 1e3:.0f} kB, {len(rows(shop))} rows, "
                    f"{used:.0f} processor s",
                    flush=True,
                )
    print(
        f"{reused} nights had nothing new; " + "; ".join(f"{n} x {w}" for w, n in days.counts.most_common())
    )
    print(f"{bad} things wrong")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
