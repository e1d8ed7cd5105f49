"""Files by content."""

import hashlib
import io

import pytest

from bolewalk.store.errors import StoreError

# SHA-256 of "abc", NIST FIPS 180-2, appendix B.1.
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_file_is_named_by_its_content(store, clock):
    medium = store.put_media(io.BytesIO(b"abc"), when=clock())
    assert (medium.sha256, medium.size) == (ABC, 3)
    with store.open_media(ABC) as stream:
        assert stream.read() == b"abc"


def test_the_same_content_is_kept_once(store, clock):
    for _ in range(2):
        store.put_media(io.BytesIO(b"abc"), when=clock())
    assert list(store.files.names()) == [ABC]
    assert list(store.files.incoming.iterdir()) == []


def test_a_large_file_comes_back_piece_by_piece(store, clock):
    piece = bytes(range(256)) * 4096  # one mebibyte
    body = piece * 5 + b"end"

    class Stream(io.BytesIO):
        largest = 0

        def read(self, size=-1):
            assert size > 0, "read whole"
            self.largest = max(self.largest, size)
            return super().read(size)

    stream = Stream(body)
    medium = store.put_media(stream, when=clock())
    assert medium.sha256 == hashlib.sha256(body).hexdigest()
    assert stream.largest < len(body) / 2


@pytest.mark.parametrize(("limit", "fits"), [(3, True), (2, False)])
def test_the_limit_holds_on_both_sides(store, clock, limit, fits):
    if fits:
        assert store.put_media(io.BytesIO(b"abc"), when=clock(), limit=limit).size == 3
        return
    with pytest.raises(StoreError, match="larger than 2 bytes"):
        store.put_media(io.BytesIO(b"abc"), when=clock(), limit=limit)
    assert list(store.files.names()) == []
    assert list(store.files.incoming.iterdir()) == []


@pytest.mark.parametrize("name", ["", "../../etc/passwd", ABC.upper(), ABC + "0", "x" * 64])
def test_names_that_are_no_hash_open_nothing(store, name):
    with pytest.raises(StoreError, match="not the name of a kept file"):
        store.open_media(name)


def test_an_unknown_file_is_told(store):
    with pytest.raises(StoreError, match="ba7816bf8f01 cannot be read"):
        store.open_media(ABC)
