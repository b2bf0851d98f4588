"""Bring the README's pictures, sample of output and reference up to date, the first two from the demo plan.

bash scripts/demo && .venv/test/bin/python scripts/refresh_readme.py
.venv/test/bin/python scripts/refresh_readme.py --reference    the reference only, without a plan
"""

from __future__ import annotations

import sys
from pathlib import Path

from nestyield.cli.summary import short_summary
from nestyield.model import Plan
from nestyield.paperwork import bed_picture, blank_picture, svg
from nestyield.planfile import loads
from nestyield.reference.page import filled

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "fixtures" / "pictures"
BEGIN, END = "<!-- demo -->\n", "<!-- end of demo -->\n"


def pictures(plan: Plan) -> None:
    """Write one picture of a glued-up blank, one of several parts on a piece, one of a bed."""
    glued = next(layout for layout in plan.layouts if layout.glueup is not None)
    several = max(plan.layouts, key=lambda layout: len(layout.placements))
    setup = glued.setups[glued.chosen or 0]
    PICTURES.mkdir(exist_ok=True)
    for name, canvas in (
        ("glued-up", blank_picture.picture(plan, glued)[0]),
        ("several", blank_picture.picture(plan, several)[0]),
        ("bed", bed_picture.picture(plan, glued, setup, width_mm=110.0)[0]),
    ):
        path = PICTURES / f"{name}.svg"
        path.write_text(svg.document(canvas), encoding="utf-8")
        print(path.relative_to(ROOT))


def sample(plan: Plan) -> str:
    """Return what the command prints for the demo shop."""
    return short_summary(plan)


def between(text: str, begin: str, end: str, block: str) -> str:
    """Return a text with what stands between two marks exchanged."""
    before, _, rest = text.partition(begin)
    _, _, after = rest.partition(end)
    return f"{before}{begin}{block}{end}{after}"


def main() -> None:
    """Write reference, pictures and sample."""
    readme = ROOT / "README.md"
    text = filled(readme.read_text(encoding="utf-8"))
    readme.write_text(text, encoding="utf-8")
    if "--reference" in sys.argv:
        return
    plan = loads((ROOT / "out" / "demo" / "plan.json").read_bytes())
    pictures(plan)
    block = f"On the demo shop it shows:\n\n```text\n{sample(plan)}\n```\n\n"
    readme.write_text(between(text, BEGIN, END, block), encoding="utf-8")
    print(readme.relative_to(ROOT))


if __name__ == "__main__":
    main()
