"""The pictures of a glue-up sheet: what is drawn where."""

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from nestyield.model import GlueUpRules
from nestyield.paperwork import glue_figures, glue_sheet
from nestyield.paperwork.canvas import Area, Text
from nestyield.paperwork.page import Pages

_PATH = Path(__file__).parents[1] / "glueup" / "boards.py"
_SPEC = importlib.util.spec_from_file_location("boards", _PATH)
boards = importlib.util.module_from_spec(_SPEC)
sys.modules.setdefault("boards", boards)
_SPEC.loader.exec_module(boards)


def drawn(plan, paper="a4"):
    return glue_sheet.glue_sheet(plan, plan.layouts[0], paper)


def styles(pages):
    return [item.style for page in pages for item in page.items if isinstance(item, Area)]


def test_names_faces_and_ways():
    """Each piece stands with its letter, name, face and way round."""
    said = [t.text for page in drawn(boards.plan()) for t in page.items if isinstance(t, Text)]
    for words in (
        "A",
        "B",
        "K-1",
        "K-2",
        "top face up",
        "as measured",
        "end for end",
        "0",
        "5.0 off",
    ):
        assert words in said, words


def test_marks_and_clamps():
    """Two marks a seam, two heads a clamp, a ring a piece, and a spline in both pictures."""
    pages = drawn(boards.plan(glueup=GlueUpRules(reinforce="spline")))
    found = styles(pages)
    clamps = len(boards.plan().layouts[0].glueup.clamps.at_mm)
    # one more of each in the legend
    assert found.count("mark") == 2 + 1
    assert found.count("clamp-head") == 2 * clamps + 1
    assert found.count("zero") == 2 + 1
    assert found.count("key") == 1 + 2 + 1


def test_scale():
    """Pieces apart fill the width, or less when height is short, and never a negative scale."""
    plan = boards.plan()
    members = glue_figures.lying(plan, plan.layouts[0], plan.layouts[0].glueup)
    pages = Pages(paper="a4", heading="h", foot="f")
    free = glue_figures.scale_here(pages, members, 400.0)
    assert free == pytest.approx((pages.width - 48.0) / 510.0)
    assert 0 < glue_figures.scale_here(pages, members, 90.0) < free
    assert glue_figures.scale_here(pages, members, 20.0) == 0.0


def test_an_upright_glue_up_is_drawn():
    """A glue-up whose seams stand upright is drawn without clamps across, which are told in words."""
    turned = replace(
        boards.BLANK,
        members=tuple(
            replace(m, angle_deg=m.angle_deg + 90, x_um=-m.y_um, y_um=m.x_um) for m in boards.MEMBERS
        ),
        shape=replace(
            boards.BLANK.shape,
            outer=replace(
                boards.BLANK.shape.outer,
                points_mm=tuple((-y, x) for x, y in boards.BLANK.shape.outer.points_mm),
            ),
        ),
        seams=(replace(boards.SEAM, line_mm=tuple((-y, x) for x, y in boards.SEAM.line_mm)),),
        grain_deg=90.0,
    )
    at = replace(boards.AT, angle_deg=90.0, x_um=-boards.AT.y_um, y_um=boards.AT.x_um)
    pages = drawn(boards.plan(blank=turned, at=at))
    assert "clamp-head" not in styles(pages)
    assert "clamps across all seams" in " ".join(
        t.text for p in pages for t in p.items if isinstance(t, Text)
    )


def test_flaws_of_the_other_part_are_not_drawn():
    """Of a piece that is sawn apart each member shows the flaws on its own part."""
    from nestyield.model import Defect, Member, Outline, Shape

    knot = Defect(name="d", kind="knot", shape=Shape(outer=Outline.circle(90, 30, 5)))
    piece = replace(boards.A, shape=Shape(outer=Outline.rectangle(0, 0, 1003.2, 100)), defects=(knot,))
    halves = (
        Shape(outer=Outline.rectangle(0, 0, 500, 100)),
        Shape(outer=Outline.rectangle(503.2, 0, 1003.2, 100)),
    )
    told = boards.plan().layouts[0].glueup.members
    shown = [
        glue_figures.DrawnMember(told=t, member=Member(piece="K-1", copy=1, cut=cut), piece=piece).defects
        for t, cut in zip(told, halves)
    ]
    assert shown == [(knot,), ()]
