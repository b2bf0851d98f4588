"""A plan changed by hand: its bytes with sums made anew, and who notices, looking again only at what the change can touch.

Used by `plan_faults.py` and `study_edits.py`. `nestyield verify` looks at everything each time; here a layout whose text and shop are
as they were is not looked at again, since each is checked by itself (`audit_layout`). `test_plan_edits.py` holds the two together.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from nestyield.audit.check import OF_THE_WHOLE, _other_way, _whole, audit_layout, check_proofs, check_sawings
from nestyield.audit.folder import _differences
from nestyield.audit.sheet import CheckedSheet
from nestyield.model import Plan
from nestyield.planfile import PlanFileError, read

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
from second import check

Raw = dict[str, Any]


def sealed(raw: Raw) -> bytes:
    """Return a plan as the bytes of its file, the digest of its inputs made anew."""
    text = json.dumps(raw["shop"], sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    raw["inputs_sha256"] = hashlib.sha256(text.encode()).hexdigest()
    return json.dumps(raw, sort_keys=True, ensure_ascii=False).encode()


class Watch:
    """Says who notices that a plan is not as it was.

    Parameters
    ----------
    raw : dict
        The sound plan, as JSON.
    """

    def __init__(self, raw: Raw) -> None:
        self.raw = json.loads(sealed(raw))
        self.plan = read(sealed(raw))[0]

    def verify(self, bad: Raw, with_shop: bool = True) -> list[str]:
        """Return codes of findings (notes left out) that `nestyield verify` would add; ``A002`` when it does not read."""
        try:
            plan, stated, given = read(sealed(bad))
        except (PlanFileError, ArithmeticError, ValueError, TypeError, RecursionError) as error:
            return ["A002"] if error else []
        if stated != given:
            return ["A003"]
        if with_shop and plan.shop.files != self.plan.shop.files:
            return ["A004"]
        if with_shop and plan.shop != self.plan.shop and _differences(plan.shop, self.plan.shop):
            return ["A005"]
        return self._audited(plan, bad)

    def _audited(self, plan: Plan, bad: Raw) -> list[str]:
        whole = CheckedSheet(plan)
        for look in (*OF_THE_WHOLE, check_sawings):
            _whole(whole, look)
        found = list(whole.findings)
        same_shop = plan.shop == self.plan.shop
        whole_facts = plan.notices != self.plan.notices  # kept blanks, rejected details
        for k, layout in enumerate(plan.layouts):
            if not (same_shop and not whole_facts and layout in self.plan.layouts):
                found += audit_layout(plan, plan.layouts[k])
        if not same_shop or bad["orders"] != self.raw["orders"]:
            found += [f for some in check_proofs(plan).values() for f in some]
        for way in plan.other_ways:
            if not (same_shop and way in self.plan.other_ways and plan.layouts == self.plan.layouts):
                found += _other_way(plan, way)
        return list(dict.fromkeys(f.code for f in found if f.severity != "note"))

    def second(self, bad: Raw) -> list[str]:
        """Return names of checks of the second checker that speak."""
        same_shop = bad["shop"] == self.raw["shop"]
        changed = [k for k, x in enumerate(bad["layouts"]) if not same_shop or x not in self.raw["layouts"]]
        claims = not same_shop or bad["orders"] != self.raw["orders"]
        found = check.of_plan(json.loads(sealed(bad)), only=changed, refusals=claims)
        return sorted(Counter(c for c, _, _ in found.found))
