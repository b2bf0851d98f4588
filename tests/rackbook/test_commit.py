"""Several files changed as one, whatever happens in between."""

import contextlib
import errno
import os
import signal
import threading
from pathlib import Path

import pytest

from nestyield.rackbook.commit import PENDING, open_book, recover
from nestyield.rackbook.disk import Disk, sha
from nestyield.rackbook.errors import BusyError, ChangedError, RackbookError
from nestyield.rackbook.journal import FOLDER, JOURNAL, Entry, FileChange, read_journal
from nestyield.rackbook.undo import undo

OLD = {"rack.csv": b"piece\nA\nB\n", "defects.csv": b"piece\nA\n"}
NEW = {"rack.csv": b"piece\nA,taken\nB\nA-a\n", "defects.csv": b"piece\nA\nA-a\n", "extra.txt": b"x"}
STAGED = "nestyield-new"
ENTRY = Entry(entry=0, action="take", plan="p", blanks=("A",))


class Stop(BaseException):
    """Stands for the end of the process."""


def fresh(folder: Path) -> Path:
    folder.mkdir()
    for name, data in OLD.items():
        (folder / name).write_bytes(data)
    return folder


def change(shop: Path, disk: Disk | None = None) -> None:
    with open_book(shop, "testing", disk) as book:
        for name in NEW:
            book.read(name)
        book.commit(ENTRY, NEW)


def state(shop: Path) -> str:
    """Return which of the two true states the folder is in."""
    files = {p.name: p.read_bytes() for p in shop.iterdir() if p.is_file() and not p.name.endswith(STAGED)}
    takes = [e for e in read_journal(shop) if e.action == "take"]
    if files == OLD and not takes:
        return "before"
    if files == NEW and len(takes) == 1 and {f.name for f in takes[0].files} == set(NEW):
        return "after"
    raise AssertionError((files, takes))


def steps(tmp_path: Path) -> list[str]:
    names: list[str] = []
    change(fresh(tmp_path / "count"), Disk(names.append))
    return names


def stopper(at: int, stop: BaseException):
    left = [at]

    def step(name: str) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise stop

    return step


def test_both_states_and_nothing_else_after_a_stop_at_every_step(tmp_path):
    """A process that ends after any system call leaves a folder that settles into before or after."""
    n = len(steps(tmp_path))
    assert n > 15
    found = []
    for k in range(n):
        shop = fresh(tmp_path / f"stop-{k}")
        child = os.fork()
        if child == 0:  # as SIGKILL would have it: no handler, no clean-up
            left = [k]

            def step(name: str, left=left) -> None:
                left[0] -= 1
                if left[0] < 0:
                    os.kill(os.getpid(), signal.SIGKILL)

            change(shop, Disk(step))
            os._exit(0)
        _, status = os.waitpid(child, 0)
        assert os.WTERMSIG(status) == signal.SIGKILL
        pending = (shop / FOLDER / PENDING).exists()
        assert recover(shop) == pending
        found.append(state(shop))
        if found[-1] == "before":
            change(shop)
            assert state(shop) == "after"
        strays = [p.name for p in (shop / FOLDER).iterdir()] + [p.name for p in shop.iterdir()]
        assert not [s for s in strays if s.endswith(STAGED)]
    assert found == sorted(found, reverse=True)  # first all "before", then all "after"
    assert {"before", "after"} == set(found)


def test_a_second_stop_while_settling_changes_nothing(tmp_path):
    """Settling itself may be cut short at every step and is finished the next time."""
    names = steps(tmp_path)
    at = next(i for i, name in enumerate(names) if name == f"rename {PENDING}")
    for k in range(12):
        shop = fresh(tmp_path / f"twice-{k}")
        with pytest.raises(Stop):
            change(shop, Disk(stopper(at + 1, Stop())))
        with contextlib.suppress(Stop):
            recover(shop, Disk(stopper(k, Stop())))
        recover(shop)
        assert state(shop) == "after"


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_a_disk_that_refuses_leaves_the_old_state(tmp_path, monkeypatch, number):
    """A full disk at any write stops the booking with the folder as it was and no strays."""
    real = os.write
    for k in range(40):
        shop = fresh(tmp_path / f"full-{k}")
        left = [k]

        def write(handle, data, left=left):
            left[0] -= 1
            if left[0] < 0:
                raise OSError(number, os.strerror(number))
            return real(handle, data)

        monkeypatch.setattr(os, "write", write)
        try:
            change(shop)
        except OSError:
            monkeypatch.setattr(os, "write", real)
            assert state(shop) == "before"
            assert not list(shop.rglob(".*nestyield-new"))
        else:
            assert state(shop) == "after"
            assert k > 4
            return
    raise AssertionError("the booking was never let through")


def test_a_disk_that_takes_a_byte_at_a_time_is_written_whole(tmp_path, monkeypatch):
    """Short writes are continued."""
    real = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: real(handle, bytes(data[:1])))
    shop = fresh(tmp_path / "slow")
    change(shop)
    assert state(shop) == "after"


def test_two_at_once(tmp_path):
    """While one holds the folder another is told who does, and may go on afterwards."""
    shop = fresh(tmp_path / "two")
    with (
        open_book(shop, "taking"),
        pytest.raises(BusyError, match=rf"locked by process {os.getpid()}, taking"),
    ):
        change(shop)
    change(shop)
    assert state(shop) == "after"


def test_a_lock_left_by_a_killed_process_does_not_hold(tmp_path):
    """The text in the lock file says nothing; the system's lock does."""
    shop = fresh(tmp_path / "stale")
    (shop / FOLDER).mkdir()
    (shop / FOLDER / "lock").write_text("process 1, taking\n")
    change(shop)
    assert state(shop) == "after"


def test_a_table_saved_meanwhile_is_not_written_over(tmp_path):
    """A file that somebody saves between reading and writing stops the booking."""
    shop = fresh(tmp_path / "meanwhile")
    with open_book(shop, "taking") as book:
        book.read("rack.csv")
        (shop / "rack.csv").write_bytes(b"saved by hand")
        with pytest.raises(ChangedError, match=r"rack\.csv was changed"):
            book.commit(ENTRY, {"rack.csv": b"ours"})
    assert (shop / "rack.csv").read_bytes() == b"saved by hand"
    assert read_journal(shop) == ()


def test_a_hand_change_after_a_cut_is_not_lost(tmp_path):
    """A booking that was cut short does not write over what a person did since, and says what to do."""
    shop = fresh(tmp_path / "hand")
    names = steps(tmp_path)
    with pytest.raises(Stop):
        change(shop, Disk(stopper(names.index(f"rename {PENDING}") + 1, Stop())))
    (shop / "rack.csv").write_bytes(b"mine")
    with pytest.raises(RackbookError, match=r"rack\.csv was changed by hand"):
        recover(shop)
    assert (shop / "rack.csv").read_bytes() == b"mine"
    (shop / FOLDER / PENDING).unlink()
    change_ok = recover(shop)
    assert change_ok is False


def test_ctrl_c_waits_until_the_files_agree(tmp_path):
    """An interrupt in the middle of a booking comes after it, not inside."""
    shop = fresh(tmp_path / "break")
    done = threading.Event()

    def step(name: str) -> None:
        if name == f"rename {PENDING}":
            os.kill(os.getpid(), signal.SIGINT)
            done.set()

    with pytest.raises(KeyboardInterrupt):
        change(shop, Disk(step))
    assert done.is_set()
    assert state(shop) == "after"


def test_old_bytes_are_kept_under_their_hash(tmp_path):
    """What a change replaced can be had back, byte for byte."""
    shop = fresh(tmp_path / "kept")
    change(shop)
    with open_book(shop, "looking") as book:
        assert book.kept(sha(OLD["rack.csv"])) == OLD["rack.csv"]
        (shop / FOLDER / "before" / sha(OLD["rack.csv"])).write_bytes(b"rot")
        with pytest.raises(RackbookError, match="was changed"):
            book.kept(sha(OLD["rack.csv"]))


def test_permissions_stay(tmp_path):
    """A table that only its owner may read stays so."""
    shop = fresh(tmp_path / "mode")
    (shop / "rack.csv").chmod(0o600)
    change(shop)
    assert (shop / "rack.csv").stat().st_mode & 0o777 == 0o600


def test_a_linked_table_stays_a_link(tmp_path):
    """A rack table that is a link into a folder below is changed where it lies."""
    shop = fresh(tmp_path / "link")
    (shop / "tables").mkdir()
    (shop / "rack.csv").rename(shop / "tables" / "rack.csv")
    (shop / "rack.csv").symlink_to("tables/rack.csv")
    change(shop)
    assert (shop / "rack.csv").is_symlink()
    assert (shop / "tables" / "rack.csv").read_bytes() == NEW["rack.csv"]


def test_a_spoiled_journal_is_named(tmp_path):
    """A line of the journal that is none is told with its number, and nothing is booked on top of it."""
    shop = fresh(tmp_path / "spoiled")
    change(shop)
    with (shop / FOLDER / JOURNAL).open("a") as out:
        out.write("not json\n")
    with pytest.raises(RackbookError, match="line 2 is not an entry"):
        change(shop)


def test_a_forged_booking_does_not_reach_outside(tmp_path):
    """A pending booking or journal that names a file outside the shop folder is refused."""
    shop = fresh(tmp_path / "forged")
    (shop / FOLDER).mkdir()
    victim = tmp_path / "victim"
    victim.write_bytes(b"mine")
    gone = FileChange(name="../victim", before=sha(b"mine"), after=None)
    forged = Entry(entry=1, action="take", files=(gone,))
    (shop / FOLDER / PENDING).write_text(forged.to_line())
    with pytest.raises(RackbookError, match="inside the shop folder"):
        recover(shop)
    (shop / FOLDER / PENDING).unlink()
    (shop / FOLDER / JOURNAL).write_text(forged.to_line())
    with pytest.raises(RackbookError, match="inside the shop folder"):
        undo(shop)
    assert victim.read_bytes() == b"mine"
