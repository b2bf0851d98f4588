"""Counts of orders in the maker's shop file."""

from types import SimpleNamespace

import pytest

from nestyield.rackbook.orders import book_orders
from nestyield.rackbook.take import _woods

PLAN = SimpleNamespace(
    shop=SimpleNamespace(
        orders=[
            SimpleNamespace(name="a", part="body"),
            SimpleNamespace(name="order 2", part="neck"),
            SimpleNamespace(name="c", part="body"),
        ]
    )
)
TEXT = """[shop]
name = "x"
[[order]]  # the first
part = "body"
name = "a"
count = 3 # three
[[order]]
part = "neck"
done = false
[search]
seed = 1
[[order]]
name = "c"
part = "body"
count = 2"""


def test_counts_go_down_where_they_stand():
    """Only the number changes; comment, spaces and order stay."""
    text, notes = book_orders(TEXT, {"a": 1, "c": 1}, PLAN)
    assert text == TEXT.replace("count = 3 # three", "count = 2 # three").replace(
        "count = 2", "count = 1", 2
    ).replace("count = 1 # three", "count = 2 # three")
    assert notes == ()


def test_an_order_that_is_cut_is_held():
    """An order without a count, or with nothing left, is held, in its own table."""
    text, notes = book_orders(TEXT, {"order 2": 1}, PLAN)
    assert text == TEXT.replace("done = false", "done = true")
    text, notes = book_orders(TEXT, {"c": 2}, PLAN)
    assert text == TEXT.replace('[[order]]\nname = "c"', '[[order]]\ndone = true  # all cut\nname = "c"')
    assert notes == ()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (TEXT.replace('name = "a"', 'name = "other"'), "no such order now"),
        (TEXT.replace('part = "body"\nname = "a"', 'part = "neck"\nname = "a"'), "for another part now"),
        ('order = [{ name = "a", part = "body", count = 3 }]\n', "not changed by itself"),
        (TEXT.replace("count = 3 # three", "count = 0x3"), "not changed by itself"),
    ],
)
def test_what_cannot_be_changed_is_told(text, why):
    """A shop file that is written in another way is left alone, and a person is told."""
    new, notes = book_orders(text, {"a": 1}, PLAN)
    assert new == text
    assert why in notes[0]
    assert "1 cut" in notes[0]


def test_a_text_that_looks_like_a_table_is_not_one():
    """A line of a long text that looks like an order is not taken for one."""
    tricky = TEXT.replace('name = "x"', 'name = "x"\nnote = """\n[[order]]\ncount = 9\n"""')
    new, notes = book_orders(tricky, {"a": 1}, PLAN)
    assert new == tricky
    assert "not changed by itself" in notes[0]


def test_wood_that_nothing_tells_is_not_written():
    """The wood of a matching order's copies stands in its order; where none is given, nothing does."""
    text, notes = book_orders(TEXT, {"a": 1, "c": 1}, PLAN, None, {"a": ["sugar maple"], "c": []})
    assert not notes
    assert text.count("cut_from") == 1
    assert 'cut_from = ["sugar maple"]\npart = "body"\nname = "a"\ncount = 2 # three' in text


def test_a_blank_of_two_woods_has_none_to_write():
    """A maple piece tells its wood; a glue-up of two species, kept from before its order matched, tells none."""
    woods = {"M": "sugar maple", "W": "black walnut"}
    shop = SimpleNamespace(
        orders=[SimpleNamespace(name="a", match="species")],
        piece=lambda name: SimpleNamespace(name=name, board=name, count=1, species=woods[name]),
    )
    layouts = [
        SimpleNamespace(
            blank=SimpleNamespace(copies=tuple((name, 1) for name in names)),
            placements=[SimpleNamespace(order="a")],
        )
        for names in ("M", "MW")
    ]
    plan = SimpleNamespace(shop=shop)
    assert _woods(plan, layouts[:1]) == {"a": ["sugar maple"]}
    assert _woods(plan, layouts[1:]) == {"a": []}
