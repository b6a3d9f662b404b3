"""Files kept between the checked result and saving."""

from datetime import timedelta

import pytest
from django.utils import timezone

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.errors import BenchnightError
from measurements.models import Member, StagedUpload
from measurements.services.uploads import staging

pytestmark = pytest.mark.django_db


def viewer(name: str) -> Viewer:
    return Viewer(Member.objects.create(name=name).id, name, "member")


def test_a_kept_file_comes_back_byte_for_byte():
    by = viewer("Ada")
    kept = staging.stage_file(by=by, role="sweep", name="choke.s2p", data=b"\x00\xff\r\n1")
    assert staging.get_staged_file(by=by, key=kept.key) == kept
    assert kept.size == 5


def test_another_member_and_nobody_cannot_fetch_it():
    kept = staging.stage_file(by=viewer("Ada"), role="sweep", name="a.s1p", data=b"1")
    with pytest.raises(BenchnightError) as refused:
        staging.get_staged_file(by=viewer("Ben"), key=kept.key)
    assert refused.value.code == "staging.gone"
    with pytest.raises(BenchnightError) as refused:
        staging.get_staged_file(by=ANONYMOUS, key=kept.key)
    assert refused.value.kind == "forbidden"


def test_after_a_day_it_is_gone_and_the_next_upload_sweeps_it_out():
    by = viewer("Ada")
    kept = staging.stage_file(by=by, role="sweep", name="a.s1p", data=b"1")
    StagedUpload.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(BenchnightError):
        staging.get_staged_file(by=by, key=kept.key)
    staging.stage_file(by=by, role="sweep", name="b.s1p", data=b"2")
    assert list(StagedUpload.objects.values_list("name", flat=True)) == ["b.s1p"]


def test_the_oldest_make_room_and_other_members_are_untouched(monkeypatch):
    monkeypatch.setattr(staging, "MOST_FILES", 2)
    ada, ben = viewer("Ada"), viewer("Ben")
    staging.stage_file(by=ben, role="sweep", name="ben", data=b"1")
    for name in ("first", "second", "third"):
        staging.stage_file(by=ada, role="sweep", name=name, data=b"1")
    assert sorted(StagedUpload.objects.values_list("name", flat=True)) == ["ben", "second", "third"]


def test_bytes_are_counted_too(monkeypatch):
    monkeypatch.setattr(staging, "MOST_BYTES", 5)
    by = viewer("Ada")
    staging.stage_file(by=by, role="sweep", name="old", data=b"1234")
    staging.stage_file(by=by, role="sweep", name="new", data=b"123")
    assert list(StagedUpload.objects.values_list("name", flat=True)) == ["new"]
    with pytest.raises(BenchnightError) as refused:
        staging.stage_file(by=by, role="sweep", name="huge", data=b"123456")
    assert refused.value.kind == "too_large"


def test_dropping_takes_only_own_files():
    ada, ben = viewer("Ada"), viewer("Ben")
    a = staging.stage_file(by=ada, role="sweep", name="a", data=b"1")
    b = staging.stage_file(by=ben, role="sweep", name="b", data=b"1")
    staging.drop_staged_files(by=ada, keys=[a.key, b.key])
    assert list(StagedUpload.objects.values_list("name", flat=True)) == ["b"]
