"""A zip is taken apart in memory within its limits, whatever it says of itself."""

from __future__ import annotations

import io
import stat
import struct
import tracemalloc
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.services.uploads.archives import unpack_zip
from measurements.services.uploads.uploads import Upload

MIB = 1024 * 1024


def zipped(entries, method=zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return out.getvalue()


def refused(data: bytes, code: str) -> BenchnightError:
    with pytest.raises(BenchnightError) as caught:
        unpack_zip(Upload("night.zip", data))
    assert caught.value.code == code, caught.value
    return caught.value


def test_files_and_manifest_in_order():
    data = zipped([("b.s2p", b"bb"), ("Manifest.CSV", b"file"), ("a.s2p", b"aa")])
    files, table = unpack_zip(Upload("night.zip", data))
    assert files == (Upload("b.s2p", b"bb"), Upload("a.s2p", b"aa"))
    assert table == b"file"


def test_without_a_manifest_and_stored():
    data = zipped([("a.s2p", b"aa")], zipfile.ZIP_STORED)
    assert unpack_zip(Upload("night.zip", data)) == ((Upload("a.s2p", b"aa"),), None)


def test_what_a_system_adds_by_itself_is_passed_over():
    data = zipped([("__MACOSX/._a.s2p", b"x"), (".DS_Store", b"x"), ("a.s2p", b"aa")])
    assert [file.name for file in unpack_zip(Upload("night.zip", data))[0]] == ["a.s2p"]


@pytest.mark.parametrize("name", ["night/a.s2p", "../a.s2p", "/etc/passwd", "night/", "..", "a\\b.s2p"])
def test_folders_and_paths(name):
    fault = refused(zipped([(name, b"aa")]), "zip.folders")
    assert "Zip the files themselves" in fault.detail


@pytest.mark.parametrize("kind", [stat.S_IFIFO, stat.S_IFCHR, stat.S_IFBLK, stat.S_IFSOCK, stat.S_IFDIR])
def test_what_is_no_plain_file(kind):
    """Types of a file as in POSIX <sys/stat.h>; a name alone does not tell."""
    entry = zipfile.ZipInfo("a.s2p")
    entry.create_system, entry.external_attr = 3, (kind | 0o644) << 16
    refused(zipped([(entry, b"aa")]), "zip.special")


@pytest.mark.parametrize("name", ["C:\\a.s2p", "..\\..\\a.s2p", "a/../b.s2p", "~/a.s2p"])
def test_paths_of_other_systems(name):
    refused(zipped([(name, b"aa")]), "zip.folders")


def test_what_a_system_adds_is_not_unpacked():
    """A bomb under a name that is passed over costs nothing."""
    data = zipped([("__MACOSX/a", b"\0" * (100 * MIB)), ("a.s2p", b"aa")])
    tracemalloc.start()
    files, _ = unpack_zip(Upload("night.zip", data))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert [file.name for file in files] == ["a.s2p"] and peak < MIB


def test_links():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        link = zipfile.ZipInfo("a.s2p")
        link.create_system, link.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    refused(out.getvalue(), "zip.link")


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_ways_of_packing(method):
    refused(zipped([("a.s2p", b"aa" * 100)], method), "zip.method")


def test_a_password():
    data = bytearray(zipped([("a.s2p", b"aa")]))
    for signature, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = data.find(signature) + offset
        data[at] |= 1
    refused(bytes(data), "zip.encrypted")


@pytest.mark.parametrize(
    "inner",
    [zipped([("a.s2p", b"aa")]), b"\x1f\x8b\x08rest", b"PK\x05\x06" + b"\0" * 18],
    ids=["zip", "gzip", "empty zip"],
)
def test_archives_within(inner):
    refused(zipped([("a.s2p", inner)]), "zip.nested")


def test_the_same_name_twice():
    with pytest.warns(UserWarning, match="Duplicate name"):
        data = zipped([("a.s2p", b"1"), ("a.s2p", b"2")])
    refused(data, "zip.twice")
    refused(zipped([("a.s2p", b"1"), ("A.S2P", b"2")]), "zip.twice")


def test_more_entries_than_allowed(settings):
    settings.BENCHNIGHT_INTAKE_ENTRIES = 3
    files = [(f"{n}.s2p", bytes([n])) for n in range(3)]
    assert len(unpack_zip(Upload("n.zip", zipped([*files, ("manifest.csv", b"file")])))[0]) == 3
    refused(zipped([*files, ("3.s2p", b"x"), ("manifest.csv", b"file")]), "zip.too_many")


def test_a_directory_of_a_million_entries_is_not_even_read():
    data = zipped([("a.s2p", b"aa")])
    at = data.rfind(b"PK\x05\x06")
    body, end = data[:at], bytearray(data[at:])
    entry = data[data.find(b"PK\x01\x02") : at]
    many = entry * 200_000
    struct.pack_into("<HHI", end, 8, 500, 500, len(many))  # it says 500, and has 200,000
    tracemalloc.start()
    refused(body[: data.find(b"PK\x01\x02")] + many + bytes(end), "zip.too_many")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 40 * MIB  # the archive itself has 10 MiB; its directory as objects would have 150


def test_a_bomb_stops_at_its_ratio():
    # 40 MiB of zeros in 8-MiB files: some 1000 : 1
    data = zipped([(f"{n}.s2p", b"\0" * (8 * MIB)) for n in range(5)])
    tracemalloc.start()
    fault = refused(data, "zip.too_large")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "50 times" in fault.detail and fault.kind == "too_large"
    assert peak < 8 * MIB  # it stopped in the first file


def test_one_file_beyond_a_sweeps_size(settings):
    settings.BENCHNIGHT_SWEEP_BYTES = 1000
    refused(zipped([("a.s2p", bytes(range(256)) * 4)], zipfile.ZIP_STORED), "zip.too_large")


def test_all_files_together_beyond_what_may_come_out(settings):
    settings.BENCHNIGHT_INTAKE_UNPACKED_BYTES = 3000
    entry = bytes(range(256)) * 4
    assert len(unpack_zip(Upload("n.zip", zipped([("a", entry), ("b", entry)], zipfile.ZIP_STORED)))[0]) == 2
    refused(zipped([(name, entry) for name in "abc"], zipfile.ZIP_STORED), "zip.too_large")


def test_a_size_that_is_a_lie_is_found():
    data = bytearray(zipped([("a.s2p", b"a" * 5000)]))
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<I", data, data.find(signature) + offset, 10)  # says 10 bytes
    refused(bytes(data), "zip.broken")


def test_entries_that_share_their_bytes_count_each_time(settings):
    """Overlapping entries (D. Fifield, A better zip bomb, 2019): one body, many names."""
    settings.BENCHNIGHT_INTAKE_UNPACKED_BYTES = 20 * MIB
    data = zipped([("aaaa.s2p", b"\0" * MIB)])
    first, at = data.find(b"PK\x01\x02"), data.rfind(b"PK\x05\x06")
    entry, end = data[first:at], bytearray(data[at:])
    copies = b"".join(entry.replace(b"aaaa", b"%04d" % n) for n in range(100))
    struct.pack_into("<HHI", end, 8, 100, 100, len(copies))
    with pytest.raises(BenchnightError) as caught:
        unpack_zip(Upload("n.zip", data[:first] + copies + bytes(end)))
    assert caught.value.code in ("zip.broken", "zip.too_large")


def test_64_bit_archives_are_not_needed():
    data = zipped([("a.s2p", b"aa")])
    at = data.rfind(b"PK\x05\x06")
    refused(data[:at] + b"PK\x06\x07" + b"\0" * 16 + data[at:], "zip.too_many")


@pytest.mark.parametrize(
    "data",
    [b"", b"PK", b"no zip" * 100, zipped([("a.s2p", b"a" * 999)])[:-30]],
    ids=["empty", "two bytes", "text", "cut short"],
)
def test_damaged_ones(data):
    refused(data, "zip.broken")


def test_a_flipped_bit_is_found():
    data = bytearray(zipped([("a.s2p", b"abcdefgh" * 10)], zipfile.ZIP_STORED))
    data[60] ^= 1
    refused(bytes(data), "zip.broken")


SEED = zipped([("a.s2p", b"aa" * 50), ("manifest.csv", b"file,tag,kind\n")])


@given(st.lists(st.tuples(st.integers(0, len(SEED) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_whatever_is_changed_in_a_zip_it_is_read_or_refused(changes):
    data = bytearray(SEED)
    for at, value in changes:
        data[at] = value
    try:
        files, _ = unpack_zip(Upload("n.zip", bytes(data)))
        assert all(isinstance(file.data, bytes) for file in files)
    except BenchnightError as error:
        assert error.code.startswith("zip.")
