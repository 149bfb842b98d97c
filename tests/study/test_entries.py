"""The store of runs: entries are complete or absent, damage is noticed, trouble is one clear error."""

import errno
import json
import os
import time

import pytest

from fefoot.errors import InputError
from fefoot.study import entries
from fefoot.study.entries import RunStore

KEY = "ab" + "0" * 38
KEPT = {"failure": None, "measures": [["heel_pad", "peak_pressure_kPa", 0.1 + 0.2, None]],
        "checks": [], "cost": {"seconds": 1.25}}


def test_what_is_put_comes_back_to_the_last_digit(tmp_path):
    store = RunStore(tmp_path / "deep" / "store")
    assert store.get(KEY) is None
    store.put(KEY, {"question": 1}, KEPT)
    assert RunStore(store.path).get(KEY) == KEPT
    assert [p.name for p in store.path.rglob("*") if p.is_file()] == [f"{KEY}.json"]


@pytest.mark.parametrize("spoil", [
    lambda data: data[: len(data) // 2], lambda data: b"", lambda data: b"[]",
    lambda data: data.replace(b"1.25", b"1.26"),
    lambda data: data.replace(b'"format": 1', b'"format": 0'),
    lambda data: data.replace(KEY.encode(), b"ac" + KEY[2:].encode())])
def test_a_damaged_entry_counts_as_absent(tmp_path, spoil):
    store = RunStore(tmp_path)
    store.put(KEY, {}, KEPT)
    file = store.file(KEY)
    file.write_bytes(spoil(file.read_bytes()))
    assert store.get(KEY) is None
    store.put(KEY, {}, KEPT)
    assert store.get(KEY) == KEPT


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EDQUOT])
def test_a_full_disk_is_one_clear_error_and_leaves_no_part(tmp_path, monkeypatch, number):
    store = RunStore(tmp_path)

    def full(handle):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(entries.os, "fsync", full)
    with pytest.raises(InputError, match="store of runs cannot be written") as caught:
        store.put(KEY, {}, KEPT)
    assert os.strerror(number) in caught.value.problem and caught.value.key == "--store"
    assert os.strerror(number) not in caught.value.hint and "another folder with --store" in (
        caught.value.hint)
    assert store.get(KEY) is None and [p for p in tmp_path.rglob("*") if p.is_file()] == []


def test_a_store_where_nothing_can_be_written_is_refused_at_once(tmp_path):
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(InputError, match="cannot be written"):
        RunStore(tmp_path / "file" / "store")


def test_parts_of_killed_writers_go_and_those_of_living_ones_stay(tmp_path):
    store = RunStore(tmp_path)
    store.put(KEY, {}, KEPT)
    folder, host = store.file(KEY).parent, entries.socket.gethostname()
    parts = {n: folder / f"{entries._PART}{n}-{KEY}.json" for n in (
        f"{host}-4194305", f"{host}-{os.getpid()}", "elsewhere-with-dash-1")}
    for part in (*parts.values(), folder / f"{entries._PART}elsewhere-2-{KEY}.json"):
        part.write_text("{")
    old = folder / f"{entries._PART}elsewhere-2-{KEY}.json"
    os.utime(old, (time.time() - 7200,) * 2)
    RunStore(tmp_path)
    left = {p.name for p in folder.iterdir()}
    assert left == {f"{KEY}.json", parts[f"{host}-{os.getpid()}"].name,
                    parts["elsewhere-with-dash-1"].name}


def test_values_that_are_no_numbers_are_never_written(tmp_path):
    with pytest.raises(ValueError, match="JSON"):
        RunStore(tmp_path).put(KEY, {}, {**KEPT, "cost": {"seconds": float("nan")}})
    assert json.loads("1") and list(tmp_path.iterdir()) == []
