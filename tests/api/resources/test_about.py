"""The index, the description, and whatever is at no address."""

from __future__ import annotations

from measurements.rf.analysis import ENGINE_VERSION


def test_the_index_leads_to_addresses_that_answer(scene):
    index = scene.ask("anonymous", "GET", "").json()
    assert index["engine_version"] == ENGINE_VERSION
    assert index["release"] == scene.release
    for name, address in index["addresses"].items():
        path = address.removeprefix("http://testserver")
        status = scene.ask_unchecked("owner", "GET", path).status_code
        assert status == (405 if name == "analyse" else 200), address
