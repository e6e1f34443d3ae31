"""A segment's files, mapped."""

from __future__ import annotations

import io
import pickle

from hypothesis import given
from hypothesis import strategies as st

from counterfoil.index.mapped import _MappedFile


@given(st.binary(max_size=200), st.lists(st.tuples(st.sampled_from(["read", "seek", "end"]), st.integers(0, 60))))
def test_a_mapped_file_is_read_as_any_file(data: bytes, steps: list[tuple[str, int]]) -> None:
    """Reading and moving about give what they give in a file in memory."""
    mapped, plain = _MappedFile(memoryview(data), "part"), io.BytesIO(data)
    for step, count in steps:
        if step == "read":
            assert mapped.read(count) == plain.read(count)
        else:
            place = (count, io.SEEK_SET) if step == "seek" else (-min(count, len(data)), io.SEEK_END)
            mapped.file.seek(*place)
            plain.seek(*place)
        assert mapped.tell() == plain.tell()


def test_pickles_follow_one_another() -> None:
    """Two pickles in a row are read one after the other, as whoosh reads its directories."""
    mapped = _MappedFile(memoryview(pickle.dumps({"a": 1}, 2) + pickle.dumps([2, "b" * 5_000], 2)), "part")
    assert (mapped.read_pickle(), mapped.read_pickle()) == ({"a": 1}, [2, "b" * 5_000])


def test_nothing_is_copied() -> None:
    """The file holds the mapped bytes themselves."""
    data = bytearray(b"abcdef")
    mapped = _MappedFile(memoryview(data), "part")
    data[0:1] = b"x"
    assert mapped.get(0, 3) == b"xbc"
