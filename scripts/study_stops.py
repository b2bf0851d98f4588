"""Stop `plan` at random instants, in every way that a shop's machine may, and look at what is left.

    python scripts/study_stops.py [--each 25] [--seed 1] [--only WAY ...]

Each run plans a new shop (`nestyield new`) in a session of its own, with two workers, and is stopped after a random
share of the processor time of a whole run. Asked of each: the exit code is one of those of its way; the output folder is
whole (`nestyield verify` accepts it) or is not there, with no temporary folder beside it; the shop's files are the same
bytes; no process of the session is left; the next run ends as a run that nothing stopped, with the same plan.json.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ENV = {**os.environ, "NESTYIELD_ANSWERS": ""}
#: After this long a process that is still there counts as left, seconds.
PATIENCE_S = 60.0
#: Address space in which the program starts and runs short, bytes.
SPACE = (700 << 20, 3000 << 20)


def program(*args: object) -> list[str]:
    """Return the command line of the program."""
    return [sys.executable, "-m", "nestyield", *map(str, args)]


def of_session(leader: int) -> list[int]:
    """Return the processes of a session that still run."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                text = (entry / "stat").read_text()
            except OSError:
                continue
            state, _, _, session = text.rpartition(")")[2].split()[:4]
            if int(session) == leader and state != "Z":
                found.append(int(entry.name))
    return found


def processor_s(leader: int) -> float:
    """Return the processor time that the processes of a session have used."""
    ticks = 0
    for pid in of_session(leader):
        try:
            text = (Path("/proc") / str(pid) / "stat").read_text()
        except OSError:
            continue
        ticks += sum(map(int, text.rpartition(")")[2].split()[11:15]))
    return ticks / os.sysconf("SC_CLK_TCK")


def gone(leader: int) -> bool:
    """Tell whether all processes of a session end in time."""
    until = time.monotonic() + PATIENCE_S
    while of_session(leader):
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def listening() -> None:
    """Undo what a shell sets for what it starts in the background, or after ``nohup``: signals that are ignored."""
    for number in (signal.SIGINT, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


class Stops:
    """Runs of one shop that are stopped.

    Parameters
    ----------
    work : Path
        An empty folder.
    rng : random.Random
    """

    def __init__(self, work: Path, rng: random.Random) -> None:
        self.work, self.rng, self.leader = work, rng, 0
        self.shop, self.out = work / "shop", work / "place" / "out"
        subprocess.run(program("new", self.shop), env=ENV, check=True, stdout=subprocess.DEVNULL)
        self.files = contents(self.shop)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        if self.plan().wait() != 0:
            raise SystemExit("the shop does not plan even when nothing stops it")
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        self.whole_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        self.plan_file = (self.out / "plan.json").read_bytes()
        shutil.rmtree(self.out)

    def plan(self, **how: object) -> subprocess.Popen[bytes]:
        """Start a run in a session of its own."""
        self.out.parent.mkdir(exist_ok=True)
        options = {
            "stdout": subprocess.DEVNULL,
            "stderr": subprocess.PIPE,
            "preexec_fn": listening,
            **how,
        }
        line = program("plan", self.shop, "--out", self.out, "--workers", 2)
        process = subprocess.Popen(line, env=ENV, start_new_session=True, **options)  # type: ignore[call-overload]
        self.leader = process.pid
        return process  # type: ignore[no-any-return]

    def worked(self, process: subprocess.Popen[bytes], share: float) -> None:
        """Wait until a run has used a share of the processor time of a whole one, or has ended."""
        while process.poll() is None and processor_s(process.pid) < share * self.whole_s:
            time.sleep(0.01)

    def sent(self, number: int, group: bool) -> tuple[int, str]:
        """Send a signal after a random while, to the program alone or to all of its processes."""
        process = self.plan()
        self.worked(process, self.rng.uniform(0.06, 1.0))
        with contextlib.suppress(ProcessLookupError):
            (os.killpg if group else os.kill)(process.pid, number)
        return self.ended(process)

    def worker(self) -> tuple[int, str]:
        """Kill one of the other processes of the session."""
        process = self.plan()
        self.worked(process, self.rng.uniform(0.2, 0.9))
        others = [pid for pid in of_session(process.pid) if pid != process.pid]
        if others:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.rng.choice(others), signal.SIGKILL)
        return self.ended(process)

    def closed(self) -> tuple[int, str]:
        """Read nothing, or a few letters, of what the program says."""
        process = self.plan(stdout=subprocess.PIPE)
        assert process.stdout is not None
        process.stdout.read(self.rng.choice([0, 1, 40]))
        process.stdout.close()
        return self.ended(process)

    def space(self) -> tuple[int, str]:
        """Give every process too little memory."""
        most = self.rng.randrange(*SPACE)

        def limit() -> None:
            listening()
            resource.setrlimit(resource.RLIMIT_AS, (most, most))

        return self.ended(self.plan(preexec_fn=limit))

    def full(self) -> tuple[int, str]:
        """Write to a small disk."""
        place = self.out.parent
        size = self.rng.randrange(20, 1500)
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}k", "tmpfs", str(place)], check=True)
        try:
            code, said = self.ended(self.plan())
            if self.out.exists():
                shutil.copytree(self.out, self.work / "seen")
            left = [p.name for p in place.iterdir() if p != self.out]
        finally:
            subprocess.run(["umount", str(place)], check=True)
        if left:
            said += f"\nleft on the full disk: {left}"
            code = 99
        if (self.work / "seen").exists():
            (self.work / "seen").rename(self.out)
        return code, said

    @staticmethod
    def ended(process: subprocess.Popen[bytes]) -> tuple[int, str]:
        """Wait for the end; return the exit code and what was said on stderr."""
        _, said = process.communicate(timeout=600)
        return process.returncode, (said or b"").decode(errors="replace")

    def faults(self, code: int, said: str, codes: tuple[int, ...], leader_gone: bool) -> list[str]:
        """Return what is wrong after one run."""
        found = [] if code in codes else [f"exit code {code}"]
        if "Traceback" in said:
            found.append("traceback")
        if not leader_gone:
            found.append("processes left")
        if contents(self.shop) != self.files:
            found.append("shop changed")
        beside = [p.name for p in self.out.parent.iterdir() if p != self.out]
        if beside:
            found.append(f"left beside: {beside}")
        if (
            self.out.exists()
            and subprocess.run(
                program("verify", self.out), env=ENV, stdout=subprocess.DEVNULL, check=False
            ).returncode
        ):
            found.append("the folder that was written does not verify")
        return found

    def again(self) -> list[str]:
        """Return what is wrong with the run after."""
        process = self.plan()
        code, _ = self.ended(process)
        right = code == 0 and (self.out / "plan.json").read_bytes() == self.plan_file
        return [] if right else [f"the next run is not as one that nothing stopped (code {code})"]


def ways(stops: Stops) -> dict[str, tuple[Callable[[], tuple[int, str]], tuple[int, ...]]]:
    """Return each way to stop a run and the exit codes that it may have.

    A run that is asked to stop ends with its best plan (1), with the whole plan if it was done (0), or before the
    search with nothing (2).
    """
    asked = (0, 1, 2)
    return {
        "Ctrl-C, all processes": (lambda: stops.sent(signal.SIGINT, True), asked),
        "TERM, the program": (lambda: stops.sent(signal.SIGTERM, False), asked),
        "HUP, all processes": (lambda: stops.sent(signal.SIGHUP, True), asked),
        "KILL, the program": (lambda: stops.sent(signal.SIGKILL, False), (0, -9)),
        "KILL, one worker": (stops.worker, (0,)),
        "output closed": (stops.closed, (0, 2)),
        "memory limit": (stops.space, (0, 2)),
        "full disk": (stops.full, (0, 2)),
    }


def main() -> int:
    """Stop runs, and tell what was left."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--each", type=int, default=25)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+")
    args = parser.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        stops = Stops(Path(folder), random.Random(args.seed))
        print(f"a whole run: {stops.whole_s:.1f} s of processor time", flush=True)
        for way, (stop, codes) in ways(stops).items():
            if args.only and not any(o in way for o in args.only):
                continue
            ends: Counter[str] = Counter()
            for k in range(args.each):
                code, said = stop()
                found = stops.faults(code, said, codes, gone(stops.leader))
                there = "a plan" if stops.out.exists() else "nothing"
                ends[f"{code}, {there}"] += 1
                shutil.rmtree(stops.out.parent)
                if k % 5 == 0:
                    found += stops.again()
                    shutil.rmtree(stops.out.parent)
                if found:
                    wrong += 1
                    print(f"  {way}, run {k}: {'; '.join(found)}\n    {said.strip()[-600:]}", flush=True)
                stops.out.parent.mkdir(exist_ok=True)
            print(
                f"{way}: {args.each} runs; " + "; ".join(f"{n} x {e}" for e, n in sorted(ends.items())),
                flush=True,
            )
    print(f"{wrong} runs with something wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
