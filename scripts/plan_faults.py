"""Forty and more faults set in the demo's plan, one at a time, sums made anew: who notices?

    python scripts/plan_faults.py [--plan DIR] [--write]

Each fault changes values of `plan.json` as a slip of the planner (or of a person) would; the digest of the inputs and
`SHA256SUMS` are made anew, so that only what the values mean can give it away. Asked are `nestyield verify` (the audit) and the
second checker (`tests/second`), which looks at `plan.json` alone. `--write` puts the table into `scripts/RESULTS-hostile.md`.
Exit code 1 when one of the two does not notice a fault.
"""

from __future__ import annotations

import argparse
import copy
import json
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from plan_edits import Watch, check

from nestyield.cli import main as command

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "scripts" / "RESULTS-hostile.md"
Plan = dict[str, Any]
FAULTS: list[tuple[str, Callable[[Plan], None]]] = []


def fault(what: str) -> Callable[[Callable[[Plan], None]], Callable[[Plan], None]]:
    """Add a fault to the table."""

    def add(change: Callable[[Plan], None]) -> Callable[[Plan], None]:
        FAULTS.append((what, change))
        return change

    return add


def blank(plan: Plan, name: str) -> Plan:
    return next(x for x in plan["layouts"] if x["blank"]["name"] == name)


def shifted(outline: Plan, dx: float, dy: float) -> None:
    outline["points_mm"] = [[x + dx, y + dy] for x, y in outline["points_mm"]]


@fault("part moved 12 mm towards the edge")
def _(plan: Plan) -> None:
    blank(plan, "M-05")["placements"][0]["y_um"] += 12_000


@fault("part moved 0.5 mm past its margin")
def _(plan: Plan) -> None:
    lay = blank(plan, "C-01")
    high = max(y for _, y in lay["rooms"][0]["slide"]["outer"]["points_mm"])
    lay["placements"][0]["y_um"] += round(high * 1000) + 500


@fault("part turned 3 degrees more than its grain bears")
def _(plan: Plan) -> None:
    blank(plan, "O-01")["placements"][0]["angle_deg"] += 7.0


@fault("part mirrored")
def _(plan: Plan) -> None:
    blank(plan, "M-05")["placements"][0]["mirrored"] ^= True


@fault("other front up, place as it was")
def _(plan: Plan) -> None:
    blank(plan, "M-05")["placements"][0]["front_up"] ^= True


@fault("two parts 2 mm nearer than the gap")
def _(plan: Plan) -> None:
    spots = blank(plan, "F-01")["placements"]
    spots[1]["x_um"] += 2000 if spots[1]["x_um"] < spots[0]["x_um"] else -2000
    spots[1]["y_um"] += 2000 if spots[1]["y_um"] < spots[0]["y_um"] else -2000


@fault("part of another kind put in its place")
def _(plan: Plan) -> None:
    blank(plan, "M-07")["placements"][0]["part"] = "cavity template"


@fault("part given to another order")
def _(plan: Plan) -> None:
    blank(plan, "M-07")["placements"][0]["order"] = "templates"


@fault("defect left out of a blank")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["blank"]["defects"].pop(0)


@fault("defect told 10 mm shallower than it is")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["blank"]["defects"][0]["depth_mm"] -= 10.0


@fault("defect told 100 mm beside its place")
def _(plan: Plan) -> None:
    shifted(blank(plan, "C-01")["blank"]["defects"][0]["shape"]["outer"], 100.0, 0.0)


@fault("defect's kind changed to one that is allowed")
def _(plan: Plan) -> None:
    blank(plan, "O-01")["blank"]["defects"][0]["kind"] = "stain"


@fault("blank 10 mm longer than its piece")
def _(plan: Plan) -> None:
    shape = blank(plan, "C-01")["blank"]["shape"]["outer"]
    far = max(x for x, _ in shape["points_mm"])
    shape["points_mm"] = [[x + 10 if x == far else x, y] for x, y in shape["points_mm"]]


@fault("blank 5 mm thicker than its piece")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["blank"]["thickness_mm"] += 5.0


@fault("the same copy of a row used twice")
def _(plan: Plan) -> None:
    blank(plan, "M-07/2")["blank"]["members"][0]["copy"] = 1


@fault("a copy used that the rack does not have")
def _(plan: Plan) -> None:
    blank(plan, "M-07/2")["blank"]["members"][0]["copy"] = 9


@fault("a piece used that is on hold")
def _(plan: Plan) -> None:
    next(p for p in plan["shop"]["pieces"] if p["name"] == "C-01")["status"] = "hold"


@fault("seam of a glue-up moved by 8 mm")
def _(plan: Plan) -> None:
    seam = blank(plan, "glue-up 1")["blank"]["seams"][0]
    seam["line_mm"] = [[x, y + 8] for x, y in seam["line_mm"]]


@fault("seam of a glued piece left out")
def _(plan: Plan) -> None:
    lay = blank(plan, "C-04")
    lay["blank"]["seams"].pop()
    lay["seams"].pop()


@fault("member of a glue-up 3 mm off the seam")
def _(plan: Plan) -> None:
    blank(plan, "glue-up 1")["blank"]["members"][1]["y_um"] += 3000


@fault("member of a glue-up turned over, not told")
def _(plan: Plan) -> None:
    lay = blank(plan, "glue-up 1")
    lay["glueup"]["members"][0]["top_up"] ^= True


@fault("seam under a part told 50 mm shorter")
def _(plan: Plan) -> None:
    blank(plan, "C-04")["seams"][0]["length_mm"] -= 50.0


@fault("wood left at a seam told 20 mm more")
def _(plan: Plan) -> None:
    lay = next(s for s in blank(plan, "C-04")["seams"] if s["wood_left_mm"])
    lay["wood_left_mm"][0][1] += 20.0


@fault("screw in the cutter's path")
def _(plan: Plan) -> None:
    work = blank(plan, "C-01")["work"]
    tab = work["tabs"][1]
    work["hold_downs"][0].update(x_mm=tab["x_mm"], y_mm=tab["y_mm"] + 3.0)


@fault("screw in a defect")
def _(plan: Plan) -> None:
    lay = blank(plan, "C-01")
    spot = next(d for d in lay["blank"]["defects"] if d["kind"] == "split")["shape"]["outer"]["points_mm"][0]
    lay["work"]["hold_downs"][0].update(x_mm=spot[0] - 1.0, y_mm=spot[1] + 1.0)


@fault("screw 1 mm from the edge")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["hold_downs"][1]["y_mm"] = 6.0


@fault("two screws in one place")
def _(plan: Plan) -> None:
    a, b = blank(plan, "C-01")["work"]["hold_downs"][:2]
    b.update(x_mm=a["x_mm"], y_mm=a["y_mm"])


@fault("pin of the blank moved by 2 mm")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["pins"][0]["y_mm"] += 2.0


@fault("pin of the table moved by 1 mm")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["table_pins"][1]["x_mm"] += 1.0


@fault("tab 5 mm off its outline")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["tabs"][0]["x_mm"] += 5.0


@fault("tab that leads into the part")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["tabs"][0]["angle_deg"] += 180.0


@fault("a screw that holds an outline left out")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["outlines"][0]["holds"].pop()


@fault("blank laid the other way round on the bed")
def _(plan: Plan) -> None:
    lay = blank(plan, "C-01")
    lay["setups"][0].update(along="y", turned_deg=90.0)


@fault("the setup that does not fit chosen")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["chosen"] = 1


@fault("setup moved beyond the travel")
def _(plan: Plan) -> None:
    lay = blank(plan, "C-01")
    lay["setups"][0]["x_mm"] += 300.0
    for at in lay["work"]["positions"]:
        at["x_mm"] += 300.0


@fault("a setup that does not fit told to fit")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["setups"][1].update(fits=True, refusals=[], in_sections=None)


@fault("a setup that fits told not to")
def _(plan: Plan) -> None:
    lay = blank(plan, "M-05")
    other = next(s for k, s in enumerate(lay["setups"]) if s["fits"] and k != lay["chosen"])
    other.update(fits=False, refusals=[{"code": "keep-outs together"}], clearance_mm=0.0)


@fault("travel needed told 5 mm less")
def _(plan: Plan) -> None:
    blank(plan, "O-01")["setups"][0]["needs_x_mm"] -= 5.0
    blank(plan, "O-01")["setups"][0]["spare_x_mm"] += 5.0


@fault("how far the blank may lie off its place told 100 mm larger")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["setups"][0]["clearance_mm"] += 100.0


@fault("position on the bed 3 mm beside its setup")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["work"]["positions"][1]["x_mm"] += 3.0


@fault("other face up in a position")
def _(plan: Plan) -> None:
    for at in blank(plan, "C-01")["work"]["positions"]:
        at["up"] = "top" if at["up"] == "bottom" else "bottom"


@fault("pocket cut 5 mm too deep in the order of work")
def _(plan: Plan) -> None:
    step = next(s for s in steps(blank(plan, "C-01")) if s["code"] == "cut zone")
    step["depth_um"] += 5000


@fault("step that cuts a pocket left out")
def _(plan: Plan) -> None:
    for stage in blank(plan, "C-01")["work"]["stages"]:
        stage["steps"] = [s for s in stage["steps"] if s["code"] != "cut zone"]


def steps(layout: Plan) -> list[Plan]:
    return [s for stage in layout["work"]["stages"] for s in stage["steps"]]


@fault("leftover 10 mm wider than the wood")
def _(plan: Plan) -> None:
    x = blank(plan, "C-01")["leftovers"][0]
    low = min(b for _, b in x["shape"]["outer"]["points_mm"])
    x["shape"]["outer"]["points_mm"] = [
        [a, b - 10 if b == low else b] for a, b in x["shape"]["outer"]["points_mm"]
    ]
    x["rectangle_mm"][1] -= 10
    x["rectangle_mm"][3] += 10
    x["area_mm2"] += 10 * x["rectangle_mm"][2]


@fault("leftover's rectangle told 15 mm wider")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["leftovers"][1]["rectangle_mm"][3] += 15.0


@fault("scrap told as a leftover to keep")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["leftovers"][2]["usable"] = True


@fault("leftover told as scrap")
def _(plan: Plan) -> None:
    blank(plan, "O-01")["leftovers"][0].update(usable=False, value=0.0)


@fault("leftover told twice under two names")
def _(plan: Plan) -> None:
    lay = blank(plan, "O-01")
    lay["leftovers"].append({**copy.deepcopy(lay["leftovers"][0]), "name": "O-01-z"})


@fault("a leftover's value doubled")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["leftovers"][0]["value"] *= 2


@fault("area of leftovers counted twice")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["usable_area_mm2"] *= 2


@fault("area of the parts 3 % too large")
def _(plan: Plan) -> None:
    blank(plan, "O-01")["part_area_mm2"] *= 1.03


@fault("board feet of a blank at the finished thickness")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["board_feet"] *= 38.1 / 45.0


@fault("value of a blank 10 less")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["value"] -= 10.0


@fault("one more copy told as placed")
def _(plan: Plan) -> None:
    result(plan, "twin console")["placed"] += 1


def result(plan: Plan, order: str) -> Plan:
    return next(r for r in plan["orders"] if r["order"] == order)


@fault("count of an order told one less")
def _(plan: Plan) -> None:
    result(plan, "spring three")["count"] -= 1


@fault("two copies with one number")
def _(plan: Plan) -> None:
    blank(plan, "M-07/2")["placements"][0]["copy"] = 1


@fault("aim told better than it is")
def _(plan: Plan) -> None:
    next(o for o in plan["objectives"] if o["goal"] == "seams")["value"] -= 200.0


@fault("bound of an aim worse than what was reached")
def _(plan: Plan) -> None:
    aim = next(o for o in plan["objectives"] if o["goal"] == "wood")
    aim["bound"] = aim["value"] + 5.0


@fault("play told half as far again")
def _(plan: Plan) -> None:
    room = blank(plan, "C-01")["rooms"][0]
    room["slide"]["outer"]["points_mm"] = [[x * 1.5, y * 1.5] for x, y in room["slide"]["outer"]["points_mm"]]
    room["along_mm"], room["across_mm"] = room["along_mm"] * 1.5, room["across_mm"] * 1.5


@fault("play in turning past the grain's tolerance")
def _(plan: Plan) -> None:
    blank(plan, "C-01")["rooms"][0]["to_deg"] += 2.0


@fault("a proof that leaves out half of the angles")
def _(plan: Plan) -> None:
    for branch in result(plan, "twin console")["certificates"][0]["branches"]:
        branch["intervals"].pop()


@fault("a piece that suits told to be too thin")
def _(plan: Plan) -> None:
    reason = result(plan, "twin console")["reasons"][0]
    row = next(p for p in plan["shop"]["pieces"] if p["name"] == "W-01")
    thick = round(row["thickness_mm"] * 1000)
    reason["refusal"] = {
        "code": "too thin when planed",
        "enough": False,
        "far_um": 500,
        "piece": "W-01",
        "planed_um": thick - 1600,
        "thickness_um": thick,
    }


def main() -> int:
    """Set each fault and print who notices."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--plan", type=Path, help="a plan of the demo shop; left out: it is planned first")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = args.plan or Path(scratch) / "plan"
        if args.plan is None:
            command(["plan", str(ROOT / "fixtures" / "demo-shop"), "--out", str(folder), "--workers", "1"])
        plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    rows, missed = [], 0
    watch = Watch(plan)
    base = check.of_plan(plan).found
    print(f"as planned: {base}", flush=True)
    for what, change in FAULTS:
        bad = copy.deepcopy(plan)
        change(bad)
        by = watch.verify(copy.deepcopy(bad), with_shop=False), watch.second(bad)
        missed += not all(by)
        rows.append(f"| {what} | " + " | ".join(", ".join(b[:5]) or "missed" for b in by) + " |")
        print(rows[-1], flush=True)
    print(f"{len(FAULTS)} faults, {missed} missed by one of the two")
    if args.write:
        write(rows, missed)
    return 1 if missed or base else 0


def write(rows: list[str], missed: int) -> None:
    """Put the table into the page of results, in place of an earlier one."""
    text = PAGE.read_text(encoding="utf-8")
    head = "# Faults in a plan, and who notices"
    text = re.sub(rf"\n{head}\n.*?(?=\n# |\Z)", "", text, flags=re.S)
    table = "\n".join(["| fault | `verify` | second checker |", "|---|---|---|", *rows])
    text = text.rstrip("\n") + (
        f"\n\n{head}\n\n`python scripts/plan_faults.py --write`: the demo's plan, one fault at a time, digest and sums made anew."
        f" Each side's first five codes.\n{len(rows)} faults, {missed} missed by one of the two.\n\n{table}\n"
    )
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
