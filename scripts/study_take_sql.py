"""Kill `take` and `undo` at random instants where the rack lies in a database, and take twice at once.

    python scripts/study_take_sql.py [--on sqlite|postgresql] [--kills 200] [--pairs 20] [--seed 1] [--shop fixtures/inch-shop]

A forked process takes the whole plan (or undoes it, when it is taken), and SIGKILL hits it after a random time, in
three of four cases counted from its first write. What is left is settled, in half of the cases that need it killed
once more meanwhile. Tables, shop file and journal must then all be as before or all as after, and the database's own
book as long as the journal; anything else is a contradiction and makes the exit code 1. Then two processes take the
same plan at once from two folders with one database: exactly one may win.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import sys
import tempfile
from collections import Counter
from functools import partial
from pathlib import Path

import private_postgres
import sqlalchemy
from study_take import killed, timed

from nestyield import api
from nestyield.intake.database import connected, place_of, read_table_of
from nestyield.intake.database import sqlalchemy as sa
from nestyield.planfile import dumps
from nestyield.rackbook.commit import PENDING, recover
from nestyield.rackbook.journal import FOLDER, read_journal, standing
from nestyield.rackbook.take import take
from nestyield.rackbook.undo import undo

os.environ["NESTYIELD_ANSWERS"] = ""


def tables(shop: Path, to: str) -> tuple[object, ...]:
    """Return all rows of rack and defects, and how many bookings the database has noted.

    Keys of added rows are left out: PostgreSQL gives none of them twice.
    """
    with connected(place_of(to, "rack"), shop) as connection:
        read = [read_table_of(connection, place_of(to, name)) for name in ("rack", "defects")]
        found = [[{**t.record(row), t.key: ""} for row in t.rows] for t in read]
        noted = 0
        if sa().inspect(connection).has_table("nestyield_book"):
            noted = connection.exec_driver_sql("SELECT count(*) FROM nestyield_book").scalar()
    return (*found, noted)


def moved(source: Path, shop: Path, to: str) -> None:
    """Make a shop folder whose rack lies in a database."""
    shutil.copytree(source, shop)
    api.copy_rack(shop, to if "://" in to else str(shop / to))
    text = (shop / "shop.toml").read_text()
    for name in ("rack.csv", "defects.csv"):
        text = text.replace(f'"{name}"', f'"{to}"')
        (shop / name).unlink()
    (shop / "shop.toml").write_text(text)


def kills(shop: Path, to: str, plan: Path, number: int, dice: random.Random) -> Counter[str]:
    """Take and undo in turn, killed; return how often it ended how."""
    counts: Counter[str] = Counter()
    undone = tables(shop, to)[:2], (shop / "shop.toml").read_bytes()
    take(plan, shop)
    taken = tables(shop, to)[:2], (shop / "shop.toml").read_bytes()
    undo(shop)
    lasts = {"take": timed(partial(take, plan, shop)), "undo": timed(partial(undo, shop))}
    print(", ".join(f"{v} {1000 * t:.0f} ms of which writing {1000 * w:.0f}" for v, (t, w) in lasts.items()))
    is_taken = False
    for k in range(number):
        verb = "undo" if is_taken else "take"
        before = read_journal(shop)
        whole, writing = lasts[verb]
        aimed = dice.random() < 0.75
        act = partial(undo, shop) if is_taken else partial(take, plan, shop)
        cut = killed(act, dice.uniform(0, writing if aimed else whole), aimed)
        raw = "pending" if (shop / FOLDER / PENDING).exists() else "settled"
        if raw == "pending" and k % 2:
            killed(partial(recover, shop), dice.uniform(0, writing / 3), True)
        recover(shop)
        *found, noted = tables(shop, to)
        entries = read_journal(shop)
        now_taken = len(standing(entries)) == 1
        fair = taken if now_taken else undone
        sound = (tuple(found), (shop / "shop.toml").read_bytes()) == fair
        sound = sound and noted == len(entries) and entries[: len(before)] == before
        what = "CONTRADICTION" if not sound else "before" if now_taken == is_taken else "after"
        is_taken = now_taken
        counts[f"{verb}: {'killed' if cut else 'done before the kill'}, {raw}, then {what}"] += 1
        if not sound:
            break
    return counts


def at_once(shop: Path, other: Path, to: str, plan: Path, number: int) -> Counter[str]:
    """Take the same plan from two folders at once; return how often how many won and what the loser was told."""
    counts: Counter[str] = Counter()
    for k in range(number):
        if standing(read_journal(shop)):
            undo(shop)
        if standing(read_journal(other)):
            undo(other)
        go, gone = os.pipe()
        told = shop.parent / f"told-{k}"
        for folder in (shop, other):
            if os.fork() == 0:
                os.close(gone)
                os.read(go, 1)
                try:
                    take(plan, folder)
                    text = "won"
                except BaseException as error:
                    text = f"{type(error).__name__}: {error}"
                with told.open("a") as file:
                    file.write(text[:90] + "\n")
                os._exit(0)
        os.close(go)
        os.close(gone)
        for _ in range(2):
            os.wait()
        lines = told.read_text().splitlines()
        wins = lines.count("won")
        total = len(standing(read_journal(shop))) + len(standing(read_journal(other)))
        sound = wins == 1 and total == 1
        loser = next((x for x in lines if x != "won"), "nothing")
        counts[
            f"two at once: {wins} won, the other was told: {loser}{'' if sound else ' CONTRADICTION'}"
        ] += 1
    return counts


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--on", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--pairs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shop", type=Path, default=Path("fixtures/inch-shop"))
    args = parser.parse_args()
    dice = random.Random(args.seed)
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        room = Path(name)
        to = "rack.sqlite"
        if args.on == "postgresql":
            os.environ[private_postgres.VARIABLE] = private_postgres.PASSWORD
            to = stack.enter_context(private_postgres.private_cluster()) + "postgres"
        shop, other, plan = room / "shop", room / "other", room / "plan"
        moved(args.shop, shop, to)
        plan.mkdir()
        (plan / "plan.json").write_bytes(dumps(api.plan(shop, workers=1)))
        shutil.copytree(shop, other)
        if args.on == "sqlite":
            (other / to).unlink()
            text = (other / "shop.toml").read_text().replace(f'"{to}"', f'"sqlite:///{shop / to}"')
            (other / "shop.toml").write_text(text)
        print(f"{args.on}, {args.kills} kills, seed {args.seed}, SQLAlchemy {sqlalchemy.__version__}")
        counts = kills(shop, to, plan, args.kills, dice)
        counts += at_once(shop, other, to, plan, args.pairs)
    for what, number in sorted(counts.items()):
        print(f"{number:6d}  {what}")
    bad = sum(n for what, n in counts.items() if "CONTRADICTION" in what)
    print(f"{bad:6d}  contradictions")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
