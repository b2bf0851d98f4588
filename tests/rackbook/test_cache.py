"""Results kept between runs."""

import hashlib
import os
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

from nestyield.planning.remembered import remembered
from nestyield.rackbook.cache import AnswerCache


def test_what_was_put_comes_back(tmp_path):
    """Bytes come back under their key, also in another run; an unknown key gives nothing."""
    AnswerCache(tmp_path / "c").put("key", b"line\nline\x00")
    assert AnswerCache(tmp_path / "c").get("key") == b"line\nline\x00"
    assert AnswerCache(tmp_path / "c").get("other") is None
    assert AnswerCache(tmp_path / "nowhere").get("key") is None


def test_damage_counts_as_absence(tmp_path):
    """A file that was cut short, emptied or changed gives nothing, and no error."""
    cache = AnswerCache(tmp_path)
    cache.put("key", b"0123456789")
    path = next(tmp_path.iterdir())
    whole = path.read_bytes()
    for spoiled in (b"", whole[:-1], whole[:20], whole + b"x", b"\xff" * 80, whole.replace(b"5", b"6")):
        path.write_bytes(spoiled)
        assert AnswerCache(tmp_path).get("key") is None
    path.write_bytes(whole)
    assert cache.get("key") == b"0123456789"


def test_only_what_was_used_stays(tmp_path):
    """Sweeping removes files that nothing asked for since, and half-written ones."""
    old = AnswerCache(tmp_path)
    for key in "abc":
        old.put(key, key.encode())
    (tmp_path / ".new-left").write_bytes(b"half")
    new = AnswerCache(tmp_path)
    new.get("a")
    new.put("d", b"d")
    assert new.sweep() == 3
    again = AnswerCache(tmp_path)
    assert [again.get(k) for k in "abcd"] == [b"a", None, None, b"d"]


def test_a_place_that_cannot_be_written_is_no_error(tmp_path):
    """A cache that cannot be written is as good as none."""
    (tmp_path / "file").write_bytes(b"")
    cache = AnswerCache(tmp_path / "file" / "below")
    cache.put("key", b"x")
    assert cache.get("key") is None
    assert cache.sweep() == 0


def _age(folder, key, seconds):
    path = AnswerCache(folder)._path(key)
    now = time.time()
    os.utime(path, (now - seconds, now - seconds))


def test_what_was_used_longest_ago_goes_first(tmp_path):
    """Over the limit the oldest by use goes; what was got counts as used, and nothing goes when nothing was put."""
    cache = AnswerCache(tmp_path)
    for k, key in enumerate("abcd"):
        cache.put(key, b"x" * 935)  # with the line of its sum 1,000 bytes
        _age(tmp_path, key, 1000 - 100 * k)
    assert cache.trim(4000) == 0
    assert AnswerCache(tmp_path).trim(0) == 0
    later = AnswerCache(tmp_path)
    assert later.get("a") == b"x" * 935
    later.put("e", b"x" * 935)
    assert later.trim(3000) == 2
    left = AnswerCache(tmp_path)
    assert [key for key in "abcde" if left.get(key) is not None] == ["a", "d", "e"]


def test_half_written_files_of_a_process_that_ended_go(tmp_path):
    """A file half written goes after an hour, one that is being written stays."""
    cache = AnswerCache(tmp_path)
    cache.put("a", b"data")
    for name, age in ((".new-old", 4000), (".new-now", 10)):
        (tmp_path / name).write_bytes(b"half")
        os.utime(tmp_path / name, (time.time() - age,) * 2)
    assert cache.trim() == 1
    assert sorted(p.name for p in tmp_path.iterdir() if p.name.startswith(".")) == [".new-now"]


def _worker(folder):
    cache = AnswerCache(Path(folder))
    for k in range(200):
        key = str(k % 20)
        data = cache.get(key)
        assert data is None or data == key.encode() * 500
        cache.put(key, key.encode() * 500)
        cache.trim(4000)


@pytest.mark.study
def test_several_processes_share_a_folder(tmp_path):
    """Three processes put, get and trim at once: each answer is there whole or not at all."""
    with ProcessPoolExecutor(3, mp_context=get_context("spawn")) as pool:
        list(pool.map(_worker, [str(tmp_path)] * 3))
    AnswerCache(tmp_path).put("last", b"data")
    assert sum(p.stat().st_size for p in tmp_path.iterdir()) < 20 * 1100


def test_an_answer_is_read_as_data_and_never_run(tmp_path):
    """A pickle with a good sum is bytes like any other, and no answer to the planner."""
    cache = AnswerCache(tmp_path)
    made = []
    kind = tuple[int, ...]
    remembered(cache, "n", kind, {0: "basis"}, lambda some: {0: (1, 2)})
    (path,) = tmp_path.iterdir()
    bad = b"cos\nsystem\n(S'touch " + str(tmp_path / "ran").encode() + b"'\ntR."
    path.write_bytes(hashlib.sha256(bad).hexdigest().encode() + b"\n" + bad)
    found = remembered(cache, "n", kind, {0: "basis"}, lambda some: made.append(some) or {0: (1, 2)})
    assert found == {0: (1, 2)}
    assert made == [[0]]
    assert not (tmp_path / "ran").exists()
