"""Bring the README's pictures and its sample of output up to date from a plan of the demo shop.

bash scripts/demo && .venv/test/bin/python scripts/refresh_readme.py
"""

from __future__ import annotations

from pathlib import Path

from nestyield.cli.summary import summary
from nestyield.model import Plan
from nestyield.paperwork import bed_picture, blank_picture, svg
from nestyield.planfile import loads

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
    """Return the first lines of what the command prints for the demo shop, and the last ones."""
    lines = summary(plan).splitlines()
    first = lines.index("Blanks") + 7
    rest = lines[next(i for i, line in enumerate(lines) if " used; yield " in line) :]
    return "\n".join([*lines[:first], "  ...", "", *rest])


def main() -> None:
    """Write pictures and sample."""
    plan = loads((ROOT / "out" / "demo" / "plan.json").read_bytes())
    pictures(plan)
    readme = ROOT / "README.md"
    text = readme.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    block = f"On the demo shop it shows:\n\n```text\n{sample(plan)}\n```\n\n"
    readme.write_text(f"{before}{BEGIN}{block}{END}{after}", encoding="utf-8")
    print(readme.relative_to(ROOT))


if __name__ == "__main__":
    main()
