"""The same shops planned as if on other processors: are all files the same bytes?

    python scripts/study_processors.py [--shops N] [--seed S] [--inch] [--only NAME ...] [--keep DIR]

Each kind of processor is a process of its own with less than this machine has: numpy's levels are disabled one after
the other, OpenBLAS is told to be an older core, the C library to leave AVX2 and FMA alone, the kernels are compiled
for any x86-64. Random shops (`study_shops.py`, `study_hostile.py`), with --inch the inch shop first, are planned;
`plan.json` and all papers are compared by their SHA-256 with those of this machine as it is.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from study_hostile import Hostile
from study_shops import Maker

ROOT = Path(__file__).resolve().parents[1]


def levels() -> dict[str, str]:
    """Return what to disable of numpy's levels, from the top one down to its baseline."""
    from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__

    have = [name for name in __cpu_dispatch__ if __cpu_features__[name]]
    return {f"numpy below {have[k]}": " ".join(have[k:]) for k in reversed(range(len(have)))}


def processors(scratch: Path) -> dict[str, dict[str, str]]:
    """Return what to set in the environment for each kind of processor."""
    plain = "glibc.cpu.hwcaps=-AVX2,-AVX512F,-AVX512VL,-FMA,-FMA4,-AVX2_Usable,-FMA_Usable"
    kernels = {
        "NUMBA_CPU_NAME": "generic",
        "NUMBA_CPU_FEATURES": "",
        "NUMBA_CACHE_DIR": str(scratch / "kernels"),
    }
    lower = {name: {"NPY_DISABLE_CPU_FEATURES": value} for name, value in levels().items()}
    cores = ("SkylakeX", "Zen", "Haswell", "Sandybridge", "Nehalem", "Prescott")
    blas = {f"OpenBLAS for {core}": {"OPENBLAS_CORETYPE": core} for core in cores}
    library = {"GLIBC_TUNABLES": plain}
    lowest = {**(list(lower.values()) or [{}])[-1], **blas["OpenBLAS for Prescott"], **library, **kernels}
    return {
        "as it is": {},
        **lower,
        **blas,
        "C library without FMA": library,
        "kernels for any x86-64": kernels,
        "all of the lowest": lowest,
    }


#: Functions whose last bits processors differ in, on 100,000 numbers: what a kind of processor really changes.
LAST_BITS = """
import math, sys
import numpy as np
x = np.random.default_rng(1).uniform(0.1, 3.0, 100_000)
rows = x.reshape(-1, 10)
made = [np.sin(x), np.arctan2(x, x[::-1]), np.exp(x), rows @ rows[:10].T, np.linalg.inv(rows[:10] + np.eye(10))]
made += [np.array([f(v) for v in x.tolist()]) for f in (math.sin, math.tan, math.atan, math.exp)]
sys.stdout.buffer.write(b"".join(np.ascontiguousarray(v, dtype=float).tobytes() for v in made))
"""


def last_bits(env: dict[str, str]) -> np.ndarray:
    """Return what the functions give in an environment."""
    line = [sys.executable, "-c", LAST_BITS]
    return np.frombuffer(
        subprocess.run(line, env={**os.environ, **env}, capture_output=True, check=True).stdout
    )


def shops(folder: Path, many: int, seed: int, inch: bool) -> list[Path]:
    """Make random shops; return their folders, after the inch shop's if that is wanted."""
    made = [ROOT / "fixtures" / "inch-shop"] if inch else []
    for k in range(many):
        made.append(folder / f"shop-{k}")
        made[-1].mkdir(parents=True)
        (Maker, Hostile)[k % 2](made[-1], np.random.default_rng([seed, k])).write()
    return made


def planned(shop: Path, out: Path, env: dict[str, str], workers: int) -> dict[str, str]:
    """Plan a shop in a process of its own; return the digest of each file, and of the exit code."""
    line = [
        sys.executable,
        "-m",
        "nestyield",
        "plan",
        shop,
        "--out",
        out,
        "--workers",
        str(workers),
        "--seconds",
        "100000",
    ]
    env = {**os.environ, "NESTYIELD_ANSWERS": "", "PYTHONPATH": str(ROOT), **env}
    done = subprocess.run([str(x) for x in line], env=env, capture_output=True, text=True, check=False)
    files = sorted(p for p in out.rglob("*") if p.is_file())
    found = {p.relative_to(out).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}
    return {"exit code": str(done.returncode), **found}


def main() -> int:
    """Plan, compare, print a row for each kind of processor."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shops", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--inch", action="store_true")
    parser.add_argument("--only", nargs="*", help="only kinds that have one of these words")
    parser.add_argument("--keep", type=Path, help="folder for all plans")
    args = parser.parse_args()
    wrong, before, plain = 0, os.times(), last_bits({})
    with tempfile.TemporaryDirectory() as name:
        scratch = args.keep or Path(name)
        folders = shops(scratch, args.shops, args.seed, args.inch)
        first: dict[Path, dict[str, str]] = {}
        kinds = [(kind, env, 1) for kind, env in processors(scratch).items()]
        kinds.insert(1, ("as it is, two workers", {}, 2))
        for kind, env, workers in kinds:
            if first and args.only and not any(word in kind for word in args.only):
                continue
            other, files = [], 0
            for k, shop in enumerate(folders):
                found = planned(shop, scratch / kind.replace(" ", "-") / str(k), env, workers)
                held = first.setdefault(shop, found)
                files += len(found) - 1
                differ = sorted(f for f in {*found, *held} if found.get(f) != held.get(f))
                other += [f"{shop.name}: {len(differ)} differ, {', '.join(differ[:3])}"] if differ else []
            wrong += bool(other)
            bits = int((last_bits(env) != plain).sum())
            print(f"| {kind} | {bits} | {files} | {'; '.join(other) or 'all the same'} |", flush=True)
    spent = os.times()
    print(f"{spent.children_user + spent.children_system - before.children_user:.0f} s of processor")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
