"""The door: a plan's folder and its shop's folder in, findings out."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from . import beds, claims, gluing, inputs, leftovers, numbers, papers, places, work
from .told import Findings, Laid, Told


def findings(
    plan: Path, shop: Path | None = None, *, seed: int = 1, claimed: bool = True, paper: bool = True
) -> Findings:
    """Check a plan.

    Parameters
    ----------
    plan : Path
        Folder with ``plan.json``.
    shop : Path or None
        The shop folder that it was made from; None leaves the comparison out.
    seed : int
        Of the searches against claims.
    claimed, paper : bool
        Whether refusals and play, tables and drawings are looked at.
    """
    text = (plan / "plan.json").read_text(encoding="utf-8")
    out = of_plan(json.loads(text), seed=seed, claimed=claimed)
    told = Told(json.loads(text))
    if paper:
        guarded(out, "papers", papers.check, told, [Laid(told, x) for x in told.plan["layouts"]], plan, out)
    if shop is not None:
        guarded(out, "inputs", inputs.check, told, shop, out)
    return out


def of_plan(
    plan: dict, *, seed: int = 1, claimed: bool = True, only: list[int] | None = None, refusals: bool = True
) -> Findings:
    """Check what ``plan.json`` alone tells; with ``only`` the layouts of these indices, and the plan as a whole."""
    out = Findings()
    told = Told(plan)
    laid = [Laid(told, x) for x in plan["layouts"]]
    for k, one in enumerate(laid):
        if only is not None and k not in only:
            continue
        for room in (places, beds, work, leftovers, gluing):
            guarded(out, one.name, room.check, one, out)
        if claimed:
            guarded(out, one.name, claims.play, one, np.random.default_rng([seed, 1]), out)
    guarded(out, "plan", numbers.check, told, laid, out)
    guarded(out, "plan", gluing.sawn, told, laid, out)
    if claimed and refusals:
        guarded(out, "plan", claims.refusals, told, np.random.default_rng([seed, 2]), out)
    return out


def guarded(out: Findings, where: str, check, *args) -> None:
    """Run a check; a plan that it cannot even read through is a finding."""
    try:
        check(*args)
    except (KeyError, IndexError, TypeError, ValueError, ZeroDivisionError) as trouble:
        step = trouble.__traceback__
        while step is not None and step.tb_next is not None:
            step = step.tb_next
        line = f"{step.tb_frame.f_code.co_filename.rpartition('/')[2]}:{step.tb_lineno}" if step else ""
        out.say("unreadable", where, f"{check.__module__}.{check.__name__}: {trouble!r} at {line}")
