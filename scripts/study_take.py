"""Kill `take` and `undo` at random instants, many times, and look at what is left.

    python scripts/study_take.py [--kills 1000] [--seed 1] [--shop fixtures/demo-shop]

Each time a fresh copy of the shop is made, a forked process takes the whole plan (every second time:
undoes it), and SIGKILL hits it after a random time, in three of four cases counted from its first write.
Then the rest is settled, in half of the cases that need it killed once more meanwhile. Rack, defects, shop
file and journal must then be exactly what they were before, or exactly what they are after; anything else
is a contradiction and makes the exit code 1.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

from nestyield import api
from nestyield.planfile import dumps
from nestyield.rackbook.commit import PENDING, recover
from nestyield.rackbook.disk import NEW, Disk
from nestyield.rackbook.journal import FOLDER, read_journal
from nestyield.rackbook.take import take
from nestyield.rackbook.undo import undo

# Every run is worked out anew.
os.environ["NESTYIELD_ANSWERS"] = ""

State = tuple[tuple[tuple[str, bytes], ...], int]


def state(shop: Path) -> State:
    """Return every file of a shop that is not the rack book's own, and the length of the journal."""
    files = [(p.name, p.read_bytes()) for p in sorted(shop.iterdir()) if p.is_file()]
    return tuple(f for f in files if not f[0].endswith(NEW)), len(read_journal(shop))


def killed(action: Callable[..., object], delay_s: float, aimed: bool) -> bool:
    """Run an action in a forked process and kill it after a while; tell whether it was cut short.

    Parameters
    ----------
    action : callable
    delay_s : float
    aimed : bool
        Count from its first write instead of from its start.
    """
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            action(disk=Disk(lambda name: os.write(tell, b".") if name.startswith("open") else None))
        finally:
            os._exit(0)
    os.close(tell)
    if aimed:
        os.read(told, 1)
    time.sleep(delay_s)
    os.kill(child, signal.SIGKILL)
    os.close(told)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def timed(action: Callable[..., object]) -> tuple[float, float]:
    """Return how long an action takes, and how long from its first write to its end, seconds."""
    times = [time.monotonic()]
    action(disk=Disk(lambda name: times.append(time.monotonic()) if name.startswith("open") else None))
    end = time.monotonic()
    return end - times[0], end - times[1]


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shop", type=Path, default=Path("fixtures/demo-shop"))
    args = parser.parse_args()
    dice = random.Random(args.seed)
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        plan = room / "plan"
        plan.mkdir()
        (plan / "plan.json").write_bytes(dumps(api.plan(args.shop, workers=1)))
        shutil.copytree(args.shop, room / "fresh")
        shutil.copytree(args.shop, room / "warm")
        take(plan, room / "warm")  # the first one also loads the program
        shutil.copytree(args.shop, room / "taken")
        lasts = {"take": timed(partial(take, plan, room / "taken"))}
        shutil.copytree(room / "taken", room / "undone")
        lasts["undo"] = timed(partial(undo, room / "undone"))
        untouched, taken = state(room / "fresh"), state(room / "taken")
        undone = state(room / "undone")
        assert undone == (untouched[0], 2)
        for k in range(args.kills):
            shop = room / f"shop-{k}"
            verb = "undo" if k % 2 else "take"
            shutil.copytree(room / ("taken" if verb == "undo" else "fresh"), shop)
            before, after = (taken, undone) if verb == "undo" else (untouched, taken)
            act = partial(undo, shop) if verb == "undo" else partial(take, plan, shop)
            aimed = k % 8 > 1
            whole, writing = lasts[verb]
            cut = killed(act, dice.uniform(0, writing if aimed else whole), aimed)
            raw = "pending" if (shop / FOLDER / PENDING).exists() else "settled"
            if raw == "pending" and k % 4 < 2:
                killed(partial(recover, shop), dice.uniform(0, writing / 3), True)
            recover(shop)
            found = state(shop)
            what = "before" if found == before else "after" if found == after else "CONTRADICTION"
            if what == "CONTRADICTION":
                shutil.copytree(shop, Path(f"contradiction-{k}"))
            counts[f"{verb}: {'killed' if cut else 'done before the kill'}, {raw}, then {what}"] += 1
            shutil.rmtree(shop)
    told = ", ".join(f"{v} {1000 * t:.0f} ms of which writing {1000 * w:.0f}" for v, (t, w) in lasts.items())
    print(f"{args.kills} kills, seed {args.seed}; {told}")
    for what, number in sorted(counts.items()):
        print(f"{number:6d}  {what}")
    bad = sum(n for what, n in counts.items() if "CONTRADICTION" in what)
    print(f"{bad:6d}  contradictions")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
