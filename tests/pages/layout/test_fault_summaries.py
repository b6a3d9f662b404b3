"""What has to be mended in a form stands on top, each line with a link to its field, and beside the field."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.pages import markup
from tests.pages.conftest import Group, signed_in
from tests.pages.uploads.test_upload import FORM

# who sends what where, and the fields that must be named at the top
FAULTY: list[tuple[str, str, dict[str, Any], set[str]]] = [
    ("owner", "/upload/", {**FORM, "tag": "", "turns": "x"}, {"id_tag", "id_turns", "file_sweep"}),
    ("owner", "/predict/core/", {"outer_mm": "wide"}, {"id_turns", "id_outer_mm", "id_sweep"}),
    ("owner", "/devices/{device}/change/", {"tag": ""}, {"id_tag"}),
    ("owner", "/account/tokens/", {}, {"id_scope"}),
    ("owner", "/claim/", {}, {"id_code"}),
    ("owner", "/devices/{device}/inspect/", {"inspected_on": "x"}, {"id_inspected_on"}),
    ("operator", "/nights/open/", {"held_on": "x"}, {"id_held_on"}),
    ("operator", "/nights/{night}/jig/", {"jig_open": b"nothing"}, {"file_jig_open"}),
    ("operator", "/nights/{night}/devices/", {}, {"id_tag"}),
    ("steward", "/steward/conductors/", {}, {"id_name"}),
]


@pytest.mark.parametrize(("who", "address", "typed", "fields"), FAULTY, ids=[row[1] for row in FAULTY])
def test_every_fault_leads_to_its_field_and_stands_beside_it(
    group: Group, who: str, address: str, typed: dict[str, Any], fields: set[str]
):
    sent = {
        name: SimpleUploadedFile("x.s2p", value) if isinstance(value, bytes) else value
        for name, value in typed.items()
    }
    answer = _client(group, who).post(address.format(**vars(group)), sent)
    assert answer.status_code in (400, 422)
    page = markup.read(answer.content)
    summary = [each for each in page.elements if "data-summary" in each.attrs]
    assert len(summary) == 1 and summary[0].attrs["tabindex"] == "-1"
    links = {each.attrs["href"].removeprefix("#") for each in page.all("a") if each.attrs["href"][:1] == "#"}
    assert fields <= links
    inputs = {
        each.attrs["id"]: each for each in page.all("input", "select", "textarea") if "id" in each.attrs
    }
    for name in fields:
        assert inputs[name].attrs["aria-invalid"] == "true"
        described = inputs[name].attrs["aria-describedby"].split()
        assert set(described) <= set(page.ids)
        beside = next(each.text.strip() for each in page.elements if each.attrs.get("id") == f"{name}_error")
        assert f"{name}_error" in described and beside and beside in summary[0].text


def test_without_a_fault_there_is_no_summary(owner: Client):
    assert b"data-summary" not in owner.get("/upload/?kind=common_mode").content


def _client(group: Group, who: str) -> Client:
    return signed_in(getattr(group, who))
