"""What a plan says that its check rejected: it is left out indeed, and rules were broken that there are."""

from __future__ import annotations

from nestyield.audit.codes import CODES
from nestyield.audit.sheet import CheckedSheet
from nestyield.model.facts import DetailRejected, LayoutRejected, ProofRejected


def check_rejected(sheet: CheckedSheet) -> None:
    """Check that what was rejected is not in the plan, and that each rejection has its evidence."""
    layouts = {layout.blank.name: layout for layout in sheet.plan.layouts}
    proofs = {(r.order, c.blank) for r in sheet.plan.orders for c in r.certificates}
    mended = {n.blank for n in sheet.plan.notices if isinstance(n, DetailRejected)} | sheet.kept
    for name, here in layouts.items():
        if name not in mended and any(not fact.why for fact in here.passed_over):
            sheet.say("A531", f"blank {name}", "a bed that takes the blank is not used, and nothing says why")
    for told in sheet.plan.notices:
        if not isinstance(told, (DetailRejected, LayoutRejected, ProofRejected)):
            continue
        if not told.evidence or any(f.code not in CODES for f in told.evidence):
            sheet.say("A609", "", f"{told.code} has no evidence, or some under a code that is none")
        if isinstance(told, DetailRejected):
            layout = layouts.get(told.blank)
            if layout is None:
                sheet.say("A609", f"blank {told.blank}", "a detail was left out, but there is no such blank")
            elif told.detail == "play" and layout.rooms:
                sheet.say("A609", f"blank {told.blank}", "the play was left out, but the plan shows it")
            elif told.detail == "tabs" and layout.work is not None and layout.work.tabs:
                sheet.say("A609", f"blank {told.blank}", "tabs were left out, but the plan shows some")
            elif told.detail == "edges to watch" and layout.watch:
                sheet.say("A609", f"blank {told.blank}", "edges were left out, but the plan shows some")
        elif isinstance(told, LayoutRejected):
            for name in sorted({*told.pieces} - sheet.pieces.keys()):
                sheet.say("A609", "", f"a layout on {name!r} was left out, but the rack has no such piece")
        elif (told.order, told.piece) in proofs:
            sheet.say("A609", told.order, f"the proof for {told.piece} was left out, but the plan has it")
