"""Reading while others write."""

import threading
import time

import pytest

from nestyield.rackbook import reading
from nestyield.rackbook.commit import PENDING, open_book
from nestyield.rackbook.disk import Disk
from nestyield.rackbook.errors import BusyError
from nestyield.rackbook.journal import FOLDER
from nestyield.rackbook.reading import settled
from nestyield.rackbook.take import take


class Stop(BaseException):
    """Stands for the end of the process."""


def test_a_folder_without_bookings_is_left_alone(maker, tree):
    """Reading a shop in which nothing was ever booked writes nothing."""
    shop = maker.shop()
    with settled(shop):
        pass
    assert not (shop / FOLDER).exists()


def test_a_booking_cut_short_is_finished_before_reading(maker):
    """A reader never sees a rack table with leftovers whose defects are still missing."""
    shop = maker.shop()
    plan = maker.plan(shop, ("A", 1, "first"))

    def step(name: str) -> None:
        if name == f"rename {PENDING}":
            raise Stop

    with pytest.raises(Stop):
        take(plan, shop, disk=Disk(step))
    with settled(shop):
        kinds = {d.kind for d in maker.read(shop).piece("A-a").defects}
        assert kinds == {"knot", "check", "screw hole"}


def test_a_reader_waits_for_a_booking(maker, monkeypatch):
    """A reader waits while a booking holds the folder, and says by whom when it lasts too long."""
    shop = maker.shop()
    held, go = threading.Event(), threading.Event()

    def book() -> None:
        with open_book(shop, "taking"):
            held.set()
            go.wait(10)

    thread = threading.Thread(target=book)
    thread.start()
    held.wait(10)
    monkeypatch.setattr(reading, "WAIT_S", 0.1)
    with pytest.raises(BusyError, match="taking"), settled(shop):
        pass
    monkeypatch.setattr(reading, "WAIT_S", 10.0)
    threading.Timer(0.2, go.set).start()
    start = time.monotonic()
    with settled(shop):
        assert go.is_set()
    assert time.monotonic() - start < 9
    thread.join()
