"""Every bundle that is not taken, with its sentence; nothing of any is stored."""

import io
import json
import stat
import struct
import zipfile

import pytest

from measurements.errors import BenchnightError
from measurements.models import Device, Night
from measurements.services.bundles import bags, exports, import_run, row_schema, signing, zip_entries
from tests import factories
from tests.services.bundles import two_servers

pytestmark = pytest.mark.django_db
FOLDER = bags.FOLDER


@pytest.fixture
def bundle(settings, tmp_path):
    """A sound bundle of another server, whose key is trusted."""
    settings.BENCHNIGHT_VAR = tmp_path / "home"
    with two_servers.other_server(settings, tmp_path / "field"):
        night, *_ = two_servers.hold_night(people=1, devices_each=1)
        content, key = two_servers.export(exports.select_night(night, by=None)), signing.get_public_key()
    two_servers.trust(key)
    return content


def _unpack(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _pack(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def _with(content, name, data):
    return _pack({**_unpack(content), f"{FOLDER}/{name}": data})


def _without(content, name):
    files = _unpack(content)
    del files[f"{FOLDER}/{name}"]
    return _pack(files)


def _find(content, part):
    return next(name for name in _unpack(content) if part in name).removeprefix(f"{FOLDER}/")


def _add_entry(content, name, data=b"x", **attributes):
    out = io.BytesIO(content)
    with zipfile.ZipFile(out, "a") as archive:
        entry = zipfile.ZipInfo(name)
        for attribute, value in attributes.items():
            setattr(entry, attribute, value)
        archive.writestr(entry, data)
    return out.getvalue()


def _many(_content):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for number in range(100_000):
            archive.writestr(f"{FOLDER}/data/{number}", b"")
    return out.getvalue()


def _many_that_say_one(content):
    """A directory of 100,000 entries whose end says that it has one."""
    made = bytearray(_many(content))
    at = made.rfind(b"PK\x05\x06")
    made[at + 8 : at + 12] = struct.pack("<HH", 1, 1)
    return bytes(made).replace(b"PK\x06\x07", b"PK\x00\x00").replace(b"PK\x06\x06", b"PK\x00\x00")


def _lying_bomb(content):
    """A bomb whose header says that it has one byte."""
    made = bytearray(_with(content, "data/files/" + "0" * 64, b"\x00" * 50_000_000))
    for mark, offset in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        at = made.rfind(mark)
        while at >= 0:
            size = struct.unpack_from("<I", made, at + offset)[0]
            if size == 50_000_000:
                struct.pack_into("<I", made, at + offset, 1)
            at = made.rfind(mark, 0, at)
    return bytes(made)


def _encrypted(content):
    made = bytearray(content)
    for mark, offset in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        at = made.find(mark)
        made[at + offset] |= 1
    return bytes(made)


def _twice(content):
    with pytest.warns(UserWarning, match="Duplicate name"):
        return _add_entry(content, f"{FOLDER}/bagit.txt", bags.BAGIT)


def _resigned(content, name, change):
    """The same bundle with one file changed, and signed again by the trusted server."""
    files = {path.removeprefix(f"{FOLDER}/"): data for path, data in _unpack(content).items()}
    files[name] = change(files[name])
    payload = [(path, data) for path, data in files.items() if path.startswith("data/")]
    out = io.BytesIO()
    bags.write_bag(out, payload, "a test")
    return out.getvalue()


def _head(**changes):
    return lambda data: json.dumps({**json.loads(data), **changes}).encode()


HOSTILE = {
    "no zip": (lambda _: b"not a zip at all", "damaged, cut off or no zip"),
    "truncated": (lambda content: content[: len(content) // 2], "damaged, cut off or no zip"),
    "cut at its end": (lambda content: content[:-30], "damaged, cut off or no zip"),
    "a zip of something else": (lambda _: _pack({"night/readme.txt": b"x"}), "no bag of BagIt"),
    "another version of BagIt": (
        lambda content: _with(content, "bagit.txt", bags.BAGIT.replace(b"1.0", b"0.97")),
        "no bag of BagIt 1.0",
    ),
    "unsigned": (lambda content: _without(content, "signature.json"), "not signed"),
    "no signature in its file": (lambda content: _with(content, "signature.json", b"[1]"), "cannot be read"),
    "signed by a key that says another": (
        lambda content: _with(
            content,
            "signature.json",
            json.dumps(
                {**json.loads(_unpack(content)[f"{FOLDER}/signature.json"]), "signature": "00" * 64}
            ).encode(),
        ),
        "signature does not fit",
    ),
    "a sweep changed": (
        lambda content: _with(content, _find(content, "/data/files/"), b"# Hz S RI R 50\n1 0 0\n"),
        "was changed after the bundle was signed",
    ),
    "rows changed": (
        lambda content: _with(content, "data/rows/devices.jsonl", b""),
        "was changed after the bundle was signed",
    ),
    "a manifest changed": (
        lambda content: _with(content, bags.MANIFEST, b""),
        "was changed after the bundle was signed",
    ),
    "a tag manifest changed": (
        lambda content: _with(content, bags.TAG_MANIFEST, b""),
        "signature does not fit",
    ),
    "a sweep taken out": (
        lambda content: _without(content, _find(content, "/data/files/")),
        "is missing from the bundle",
    ),
    "a file put in": (lambda content: _with(content, "data/more", b"x"), "was added to the bundle"),
    "files from elsewhere": (lambda content: _with(content, "fetch.txt", b"x"), "wants files from elsewhere"),
    "a path that leads out": (lambda content: _add_entry(content, f"{FOLDER}/../../etc/x"), "leads out of"),
    "an absolute path": (lambda content: _add_entry(content, "/etc/x"), "leads out of"),
    "a path of another system": (lambda content: _add_entry(content, f"{FOLDER}\\..\\x"), "leads out of"),
    "two folders": (lambda content: _add_entry(content, "other/x"), "one folder with one bag"),
    "a link": (
        lambda content: _add_entry(
            content, f"{FOLDER}/data/x", b"/etc/passwd", external_attr=(stat.S_IFLNK | 0o777) << 16
        ),
        "is a link",
    ),
    "a device file": (
        lambda content: _add_entry(content, f"{FOLDER}/data/x", external_attr=(stat.S_IFCHR | 0o600) << 16),
        "no plain file",
    ),
    "a name twice": (_twice, "in the zip twice"),
    "a name in capitals": (lambda content: _add_entry(content, f"{FOLDER}/BAGIT.txt"), "in the zip twice"),
    "a password": (_encrypted, "locked with a password"),
    "another packing": (
        lambda content: _add_entry(content, f"{FOLDER}/data/x", compress_type=zipfile.ZIP_LZMA),
        "packed in a way that is not taken",
    ),
    "a bomb": (
        lambda content: _with(content, "data/files/" + "0" * 64, b"\x00" * 50_000_000),
        "unpacks to more than",
    ),
    "100,000 entries": (_many, "up to 20,000 files"),
    "100,000 entries that say one": (_many_that_say_one, "up to 20,000 files"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_bundle_that_is_not_taken(bundle, name):
    change, sentence = HOSTILE[name]
    with pytest.raises(BenchnightError) as refused:
        two_servers.take(change(bundle))
    assert sentence in refused.value.detail and refused.value.detail.endswith(".")
    assert refused.value.code.startswith("bundle.") and refused.value.field == "bundle"
    assert not Device.objects.exists() and not Night.objects.exists()


def test_a_bomb_that_hides_its_size(bundle):
    with pytest.raises(BenchnightError, match=r"added to the bundle|damaged"):
        two_servers.take(_lying_bomb(bundle))


def test_a_bundle_of_a_foreign_server(settings, tmp_path):
    settings.BENCHNIGHT_VAR = tmp_path / "home"
    with two_servers.other_server(settings, tmp_path / "foreign"):
        factories.device(factories.member("ann"))
        bundle = two_servers.export(exports.select_member("ann"))
    with pytest.raises(BenchnightError, match="a key that this server does not trust"):
        two_servers.take(bundle)
    assert not Device.objects.exists()


def _line(**changes):
    """Change the first line of a table."""

    def change(data):
        first, _, rest = data.partition(b"\n")
        return json.dumps({**json.loads(first), **changes}).encode() + b"\n" + rest

    return change


# a trusted server that is newer, broken or in other hands
SIGNED = {
    "a newer version": ("data/bundle.json", _head(version=99), "of version 99; this server reads 1"),
    "no version": ("data/bundle.json", lambda _: b"{}", "data/bundle.json of this bundle cannot be read"),
    "another's head": ("data/bundle.json", _head(made_by="0" * 64), "cannot be read"),
    "a line that is no JSON": ("data/rows/devices.jsonl", lambda _: b"{", "Line 1 of devices is no JSON"),
    "an infinite number": (
        "data/rows/inspections.jsonl",
        lambda _: b'{"dc_ohm": 1e999}\n',
        "Line 1 of inspections is no JSON",
    ),
    "a field that is unknown": (
        "data/rows/devices.jsonl",
        _line(owner="x"),
        "Line 1 of devices is not as the schema",
    ),
    "an impossible key": ("data/rows/nights.jsonl", _line(key="../x"), "is not as the schema describes it"),
    "a text of zero bytes": ("data/rows/devices.jsonl", _line(tag="a\x00b"), "is no JSON"),
    "an impossible day": ("data/rows/nights.jsonl", _line(held_on="2026-02-31"), "is no day or time"),
    "a key twice": ("data/rows/devices.jsonl", lambda data: data + data, "repeats a key"),
    "a recipe of another hash": (
        "data/rows/designs.jsonl",
        _line(recipe_sha256="0" * 64),
        "does not have the hash that it names",
    ),
    "a recipe of a later form": ("data/rows/designs.jsonl", _line(recipe_form=2), "is in form 2"),
    "an owner who is missing": ("data/rows/people.jsonl", lambda _: b"", "design or person that is missing"),
    "a sweep that cannot be read": (
        "data/rows/tests.jsonl",
        _line(files=[{"role": "sweep", "name": "x.s2p", "sha256": "0" * 64}]),
        "The bundle has no data/files/",
    ),
    "settings of a newer server": (
        "data/rows/tests.jsonl",
        _line(settings={"kind": "common_mode", "readings": [], "wavelength": 1}),
        "none that this server knows",
    ),
}


@pytest.mark.parametrize("name", SIGNED)
def test_a_signed_bundle_that_is_not_taken(settings, tmp_path, bundle, name):
    path, change, sentence = SIGNED[name]
    home = settings.BENCHNIGHT_VAR
    settings.BENCHNIGHT_VAR = tmp_path / "field"
    made = _resigned(bundle, path, change)
    settings.BENCHNIGHT_VAR = home
    with pytest.raises(BenchnightError) as refused:
        two_servers.take(made)
    assert sentence in refused.value.detail and not Device.objects.exists()


def test_the_schema_in_the_bag_describes_every_line(bundle):
    """Held against the bag alone, by the reference library: a reader without this program can do so."""
    import jsonschema

    files = _unpack(bundle)
    schema = json.loads(files[f"{FOLDER}/data/schema.json"])
    jsonschema.Draft202012Validator.check_schema(schema)
    lines = 0
    for table in row_schema.TABLES:
        for line in files[f"{FOLDER}/data/rows/{table}.jsonl"].splitlines():
            jsonschema.validate(json.loads(line), {**schema, "$ref": f"#/$defs/{table}"})
            lines += 1
    assert lines >= 6


def test_a_bag_is_what_the_standard_says(bundle):
    """RFC 8493, sections 2.1 and 2.2: declaration, manifest of all of data/, tag manifest, Payload-Oxum."""
    import hashlib

    files = {path.removeprefix(f"{FOLDER}/"): data for path, data in _unpack(bundle).items()}
    assert files["bagit.txt"] == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    payload = {path: data for path, data in files.items() if path.startswith("data/")}
    listed = dict(reversed(line.split("  ")) for line in files["manifest-sha256.txt"].decode().splitlines())
    assert listed == {path: hashlib.sha256(data).hexdigest() for path, data in payload.items()}
    tags = dict(reversed(line.split("  ")) for line in files["tagmanifest-sha256.txt"].decode().splitlines())
    assert tags == {name: hashlib.sha256(files[name]).hexdigest() for name in tags}
    assert "manifest-sha256.txt" in tags
    oxum = f"Payload-Oxum: {sum(map(len, payload.values()))}.{len(payload)}\n"
    assert oxum in files["bag-info.txt"].decode()


def test_limits_of_a_zip(monkeypatch, bundle):
    monkeypatch.setattr(zip_entries, "MOST_ENTRIES", 3)
    with pytest.raises(BenchnightError, match="up to 3 files"):
        two_servers.take(bundle)


def test_rows_of_a_bundle(monkeypatch, bundle):
    monkeypatch.setattr(import_run, "MOST_ROWS", 3)
    with pytest.raises(BenchnightError, match="up to 3 rows"):
        two_servers.take(bundle)
