"""Labels that keep clear of each other."""

from shapely import LineString, box

from nestyield.paperwork import fonts
from nestyield.paperwork.canvas import Canvas, Lines, Text
from nestyield.paperwork.labels import Labels
from nestyield.paperwork.look import STYLES


def boxes(canvas):
    """Boxes of all texts."""
    out = []
    for t in canvas.items:
        if isinstance(t, Text):
            wide = fonts.width(t.text, t.size, STYLES[t.style].bold)
            out.append((t.x - wide / 2, t.y, t.x + wide / 2, t.y + t.size * 0.73))
    return out


def test_neighbors_do_not_cover_each_other():
    """Labels of points close together move apart and stay inside the window."""
    canvas = Canvas(width_mm=80, height_mm=60)
    labels = Labels(canvas=canvas, window=(1, 1, 79, 59))
    for k in range(9):
        labels.put((30 + k * 1.5, 30 + (k % 3) * 1.5), f"S{k}", 3.0, "text-defect", reach=0.5)
    found = boxes(canvas)
    assert len(found) == 9
    for i, a in enumerate(found):
        assert a[0] >= 0.5
        assert a[2] <= 79.5
        for b in found[i + 1 :]:
            assert min(a[2], b[2]) - max(a[0], b[0]) <= 0.01 or min(a[3], b[3]) - max(a[1], b[1]) <= 0.01


def test_what_lies_outside_is_not_labeled():
    """A point outside the window gets no label."""
    canvas = Canvas(width_mm=80, height_mm=60)
    Labels(canvas=canvas, window=(0, 0, 80, 60)).put((90, 30), "P1", 3.0, "text")
    assert canvas.items == []


def test_a_label_far_off_has_a_leader():
    """A label that had to move away points back at what it names."""
    canvas = Canvas(width_mm=80, height_mm=60)
    labels = Labels(canvas=canvas, window=(0, 0, 80, 60))
    labels.block((20, 20, 60, 40))
    labels.put((40, 30), "knot", 3.0, "text", reach=1.0)
    assert any(not isinstance(item, Text) for item in canvas.items)


def test_a_label_in_a_corner_keeps_off_a_cut():
    """A screw in the corner of a blank, a knot beside it and a pocket below: the letters stay next to the screw.

    They were put on the pocket, where someone in a hurry would drive the screw (stranger's fault F15).
    """
    canvas = Canvas(width_mm=80, height_mm=60)
    labels = Labels(canvas=canvas, window=(1, 1, 78, 59))
    pocket = box(30, 10, 72, 48)
    labels.block((66, 49, 72, 59))
    labels.block((75, 54, 77, 56))
    labels.cut(pocket)
    labels.put((76, 55), "S4", 3.2, "text-slate", reach=1.0)
    (letters,) = boxes(canvas)
    assert not pocket.intersects(box(*letters))
    assert letters[2] <= 78
    assert box(*letters).distance(box(75, 54, 77, 56)) < 4.0
    assert not box(66, 49, 72, 59).intersects(box(*letters))


def test_a_label_of_a_cut_may_stand_in_it():
    """What lies in an opening, as a screw in its core, has its letters there."""
    canvas = Canvas(width_mm=80, height_mm=60)
    labels = Labels(canvas=canvas, window=(1, 1, 79, 59))
    labels.cut(box(10, 10, 70, 50))
    labels.put((40, 30), "S1", 3.2, "text-slate", reach=1.0)
    (letters,) = boxes(canvas)
    assert box(10, 10, 70, 50).contains(box(*letters))


def test_a_leader_does_not_cross_another_label():
    """The next free place lies behind another label, a farther one at the end of a clear lane: it is taken."""
    canvas = Canvas(width_mm=80, height_mm=60)
    labels = Labels(canvas=canvas, window=(1, 1, 79, 59))
    labels.block((39, 29, 41, 31))
    other = (42, 28, 46, 32)
    for rect in (other, (34, 32, 39.5, 45), (40.5, 32, 46, 45), (1, 1, 79, 28), (1, 28, 34, 59)):
        labels.block(rect)
    labels.put((40, 30), "T4", 3.0, "text-tab", reach=1.0)
    (leader,) = [item for item in canvas.items if isinstance(item, Lines)]
    assert not box(*other).intersects(LineString(leader.lines[0]))
    (letters,) = boxes(canvas)
    assert letters[1] > 45
