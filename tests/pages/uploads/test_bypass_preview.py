"""The preview of a bypass test says what the stored test will say: the place's commissioning is in both."""

from __future__ import annotations

from datetime import date

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.models import Result, Test
from tests.pages import markup
from tests.pages.conftest import Group
from tests.services.tests.test_antenna_places import bypass, dipole_s1p


def send(owner: Client, group: Group, f0_hz: float, place: str):
    files = {"sweep": dipole_s1p(f0_hz * 1.0001), "sweep_bypassed": dipole_s1p(f0_hz)}
    sent = {role: SimpleUploadedFile(f"{role}.s1p", upload.data) for role, upload in files.items()}
    fields = {"kind": "in_situ", "method": "", "design": "", "device": group.device, "calibrated": "true",
              "measured_on": "2026-05-02", "antenna_bands": "40m", "antenna_place": place}  # fmt: skip
    answer = owner.post("/upload/", {**fields, **sent})
    assert answer.status_code == 302, markup.words(answer.content)
    return answer["Location"]


def test_the_preview_holds_the_commissioning_of_the_place(owner: Client, group: Group):
    bypass(group.owner, group.device, 7.15e6, date(2025, 5, 1))
    preview = send(owner, group, 6.5e6, "long dipole")
    words = markup.words(owner.get(preview).content)
    assert "changed since commissioning" in words
    page = markup.read(owner.get(preview).content)
    saving = {
        each.attrs["name"]: each.attrs.get("value", "") for each in page.all("input") if "name" in each.attrs
    }
    assert owner.post(preview, saving).status_code == 302
    stored = Test.objects.filter(kind="in_situ").latest("pk")
    summary = Result.objects.get(test=stored).figures["summary"]
    assert summary["bypassed_since_commissioning"] == "changed"
    words = markup.words(owner.get(f"/tests/{stored.key}/").content)
    assert "changed since commissioning" in words


def test_another_place_has_no_commissioning_in_its_preview(owner: Client, group: Group):
    bypass(group.owner, group.device, 7.15e6, date(2025, 5, 1))
    words = markup.words(owner.get(send(owner, group, 6.5e6, "short vertical")).content)
    assert "since commissioning" not in words
