"""Results kept between runs."""

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
