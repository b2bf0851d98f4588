"""Bookings taken back."""

import pytest

from nestyield.rackbook.errors import ChangedError, RackbookError
from nestyield.rackbook.journal import FOLDER, read_journal, standing
from nestyield.rackbook.take import take
from nestyield.rackbook.undo import undo


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
