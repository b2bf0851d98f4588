"""Labels that keep clear of each other."""

from nestyield.paperwork import fonts
from nestyield.paperwork.canvas import Canvas, Text
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
