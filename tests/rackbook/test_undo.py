"""Bookings taken back."""

import re

import pytest

from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.journal import FOLDER, read_journal, standing
from nestyield.rackbook.take import take
from nestyield.rackbook.undo import undo
from tests.rackbook.conftest import SHOP


def test_undo_restores_the_very_bytes(maker, tree):
    """After a take and its undo every file of the shop is what it was, byte for byte."""
    shop = maker.shop()
    before = tree(shop)
    plan = maker.plan(shop, ("A", 1, "first"), ("B", 1, "first"), ("S", 2, "jigs"))
    take(plan, shop)
    assert tree(shop) != before
    undo(shop)
    assert tree(shop) == before
    assert standing(read_journal(shop)) == ()
    take(plan, shop)  # an undone take may be taken again
    undo(shop)
    assert tree(shop) == before


def test_undo_goes_back_step_by_step(maker, tree):
    """The last take that stands is undone first, then the one before."""
    shop = maker.shop()
    states = [tree(shop)]
    for piece, order in (("A", "first"), ("B", "first"), ("S", "jigs")):
        take(maker.plan(shop, (piece, 1, order)), shop, orders=False)
        states.append(tree(shop))
    for state in reversed(states[:-1]):
        undo(shop)
        assert tree(shop) == state
    with pytest.raises(RackbookError, match="no take to undo"):
        undo(shop)


def test_what_was_written_since_stays(maker):
    """A row added by hand after a take is still there after its undo, and the take's own rows are not."""
    shop = maker.shop()
    before = maker.read(shop).pieces
    take(maker.plan(shop, ("B", 1, "first")), shop)
    mine = "N;;limba;44;500;100;;0;;1;;mine;;\r\n"
    with (shop / "rack.csv").open("a", newline="") as out:
        out.write(mine)
    undo(shop)
    assert (shop / "rack.csv").read_bytes().decode().endswith("ready;;;\r\n" + mine)
    assert maker.read(shop).pieces[:-1] == before
    assert maker.read(shop).pieces[-1].name == "N"


def test_an_earlier_take_can_be_undone_alone(maker):
    """A take may be undone while a later one stands, when their rows do not touch."""
    shop = maker.shop()
    take(maker.plan(shop, ("A", 1, "first")), shop, orders=False)
    take(maker.plan(shop, ("B", 1, "first")), shop, orders=False)
    undo(shop, 1)
    now = maker.read(shop)
    assert now.piece("A").status == "ready"
    assert "A-a" not in {p.name for p in now.pieces}
    assert now.piece("B").count == 2
    with pytest.raises(RackbookError, match=r"entry 1 is not a take that stands \(these do: 2\)"):
        undo(shop, 1)


def test_a_leftover_that_was_used_stops_it(maker, tree):
    """A take whose leftover was booked out since is not undone before that booking is."""
    shop = maker.shop()
    take(maker.plan(shop, ("A", 1, "first")), shop, orders=False)
    rack = (shop / "rack.csv").read_bytes().replace(b"1;ready;;LINESTRING (316", b"1;hold;;LINESTRING (316")
    (shop / "rack.csv").write_bytes(rack)
    before = tree(shop)
    with pytest.raises(ChangedError, match=r"rack\.csv was changed since that take: expected this line once"):
        undo(shop)
    assert tree(shop) == before


def test_lost_bytes_are_told(maker):
    """When the bytes that were kept are gone or spoiled, undo says so and changes nothing."""
    shop = maker.shop()
    take(maker.plan(shop, ("A", 1, "first")), shop)
    for kept in (shop / FOLDER / "before").iterdir():
        kept.unlink()
    with pytest.raises(RackbookError, match="is gone"):
        undo(shop)


def test_bytes_that_no_undo_needs_are_let_go(maker):
    """Earlier bytes stay as long as their take stands, and no longer; files of others stay."""
    shop = maker.shop()
    folder = shop / FOLDER / "before"
    take(maker.plan(shop, ("A", 1, "first")), shop)
    first = {p.name for p in folder.iterdir()}
    assert first
    (folder / "note.txt").write_text("mine")
    take(maker.plan(shop, ("B", 1, "first")), shop, orders=False)
    assert first < {p.name for p in folder.iterdir()} - {"note.txt"}
    undo(shop)
    undo(shop)
    with pytest.raises(RackbookError, match="no take to undo"):
        undo(shop)
    assert [p.name for p in folder.iterdir()] == ["note.txt"]


TOP = "# bench moved to the window\n"
LATER = '[[order]]\nname = "later"\npart = "jig"\ncount = 1\n'


def two_alike(maker):
    """Return a shop whose take leaves ``count = 1`` in two orders, one of them not of the take."""
    text = SHOP.replace('name = "second"\npart = "body"\n', 'name = "second"\npart = "body"\ncount = 1\n')
    shop = maker.shop(shop=text)
    take(maker.plan(shop, ("A", 1, "first")), shop)
    taken = (shop / "shop.toml").read_text()
    assert taken == text.replace("count = 2\npriority", "count = 1\npriority")
    assert taken.count("count = 1\n") == 2
    return shop, text, taken


def test_orders_are_put_back_around_what_was_edited(maker):
    """A comment above, an order after and an order moved up stay; only the count that was booked goes back."""
    shop, text, taken = two_alike(maker)
    (shop / "shop.toml").write_text(TOP + taken + LATER)
    undo(shop)
    assert (shop / "shop.toml").read_text() == TOP + text + LATER
    shop, text, taken = two_alike(maker)
    head, first, *rest = taken.split("[[order]]\n")
    (shop / "shop.toml").write_text("[[order]]\n".join([head, *rest, first]))
    undo(shop)
    head, first, *rest = text.split("[[order]]\n")
    assert (shop / "shop.toml").read_text() == "[[order]]\n".join([head, *rest, first])


def test_an_order_that_is_done_is_open_again_around_edits(maker):
    """Both orders of a take are all cut: the two lines alike are taken out, each from its own order."""
    shop = maker.shop()
    take(maker.plan(shop, ("A", 1, "first"), ("B", 1, "first"), ("B", 2, "second")), shop)
    taken = (shop / "shop.toml").read_text()
    assert taken.count("done = true  # all cut\n") == 2
    (shop / "shop.toml").write_bytes((TOP + taken).replace("\n", "\r\n").encode())  # an editor may do so
    undo(shop)
    assert (shop / "shop.toml").read_bytes().decode() == (TOP + SHOP).replace("\n", "\r\n")


def test_an_earlier_take_of_another_order_is_undone_alone(maker):
    """Two takes leave the same line in two orders; the earlier one is taken back without the later."""
    shop = maker.shop()
    take(maker.plan(shop, ("A", 1, "first")), shop)
    take(maker.plan(shop, ("S", 1, "jigs")), shop)
    undo(shop, 1)
    assert (shop / "shop.toml").read_text() == SHOP.replace('"jig"\ncount = 2', '"jig"\ncount = 1')


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (
            "count = 1\npriority",
            "count = 5\npriority",
            "order 'first' no longer has the line 'count = 1' that it wrote; write that line there again, then undo",
        ),
        (
            'name = "first"',
            'name = "fist"',
            "expected order 'first' once, and it is not there; write it so again, as",
        ),
        ('name = "first"', 'name = "first', "its orders cannot be read; write each under a line"),
    ],
)
def test_an_order_that_cannot_be_told_stops_it(maker, tree, old, new, why):
    """What was booked and edited since is not guessed: the message says what to write, and nothing is changed."""
    shop, _, taken = two_alike(maker)
    assert taken.count(old) == 1
    (shop / "shop.toml").write_text(taken.replace(old, new))
    before = tree(shop)
    with pytest.raises(ChangedError, match=f"^shop.toml was changed since that take: {why}") as told:
        undo(shop)
    assert "undo first" not in str(told.value)  # nothing came after it
    assert tree(shop) == before


def test_a_later_take_of_the_same_order_is_named(maker):
    """The earlier of two takes of one order waits for the later, which is named."""
    shop = maker.shop(shop=SHOP.replace("count = 2\npriority", "count = 3\npriority"))
    take(maker.plan(shop, ("A", 1, "first")), shop)
    take(maker.plan(shop, ("B", 1, "first")), shop)
    with pytest.raises(ChangedError, match=r"; or undo first what came after it: entry 2$"):
        undo(shop, 1)


@pytest.mark.parametrize(
    ("since", "found"),
    [
        ("", 1),
        ('[[order]]\npart = "jig"\ncount = 1\n', 1),  # another order without a name
        ('[[order]]\npart = "body"\ncount = 1\n', 2),  # one that says the same
    ],
)
def test_orders_without_a_name_are_told_by_all_that_they_say(maker, since, found):
    """An order without a name is found again by its lines; two that say the same are not guessed."""
    text = SHOP.replace('name = "second"\npart = "body"\n', 'part = "body"\ncount = 2\n')
    shop = maker.shop(shop=text)
    take(maker.plan(shop, ("A", 1, "order 2")), shop)
    taken = (shop / "shop.toml").read_text()
    assert taken == text.replace('[[order]]\npart = "body"\ncount = 2', '[[order]]\npart = "body"\ncount = 1')
    (shop / "shop.toml").write_text(TOP + taken + since)
    if found == 1:
        undo(shop)
        assert (shop / "shop.toml").read_text() == TOP + text + since
    else:
        with pytest.raises(ChangedError, match=r"expected the order of 'body' once, and it is there 2 times"):
            undo(shop)


def test_two_orders_that_the_take_left_alike(maker):
    """Two orders without a name said the same after the take: told by which comes first, not once one is gone."""
    alike = '[[order]]\npart = "body"\ncount = 1\n'
    text = SHOP.replace('[[order]]\nname = "second"\npart = "body"\n', alike.replace("1", "2") + alike)
    shop = maker.shop(shop=text)
    take(maker.plan(shop, ("A", 1, "order 2")), shop)
    taken = (shop / "shop.toml").read_text()
    assert taken.count(alike) == 2
    (shop / "shop.toml").write_text(taken.replace(alike, "", 1))
    with pytest.raises(
        ChangedError, match=r"expected the order of 'body' 2 times alike, and it is there once"
    ):
        undo(shop)
    (shop / "shop.toml").write_text(TOP + taken)
    undo(shop)
    assert (shop / "shop.toml").read_text() == TOP + text


def test_a_journal_without_places_says_how_to_go_on(maker):
    """A take that was booked before places were told: once the other line is marked, as told, it is undone."""
    shop, text, taken = two_alike(maker)
    journal = shop / FOLDER / "journal"
    old = re.sub(r',"at":\[[^]]*\]', "", journal.read_text())
    assert old != journal.read_text()
    journal.write_text(old)
    (shop / "shop.toml").write_text(TOP + taken)
    with pytest.raises(
        ChangedError, match=r"put a comment behind the others \(count = 1  # other\), then undo again"
    ):
        undo(shop)
    marked = (TOP + taken).replace(
        '"second"\npart = "body"\ncount = 1', '"second"\npart = "body"\ncount = 1  # other'
    )
    (shop / "shop.toml").write_text(marked)
    undo(shop)
    assert (shop / "shop.toml").read_text().replace("  # other", "") == TOP + text
