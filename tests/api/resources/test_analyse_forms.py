"""POST analyse/ as a service in itself: figures or their chart, without an account, nothing kept."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from altair import Chart
from django.apps import apps
from django.conf import settings as django_settings

from tests import factories

FORM = {"kind": "common_mode", "calibrated": "true"}
READINGS = '[{"frequency_hz": 7.0e6, "value": 31.2}, {"frequency_hz": 7.3e6, "value": 30.9}]'


def ask(scene, words: str = "", accept: str = "", **fields):
    headers = {"Accept": accept} if accept else {}
    form = {**FORM, **(fields or {"sweep": factories.choke_s2p()})}
    return scene.ask("anonymous", "POST", f"analyse/{words}", form=form, headers=headers)


@pytest.mark.parametrize(
    ("words", "accept", "media_type", "begins"),
    [
        ("?format=svg", "", "image/svg+xml", b"<svg"),
        ("", "image/svg+xml", "image/svg+xml", b"<svg"),
        ("?format=png", "", "image/png", b"\x89PNG"),
        ("", "image/png", "image/png", b"\x89PNG"),
        ("?format=vega", "", "application/vnd.vegalite.v6+json", b"{"),
        ("", "application/vnd.vegalite.v6+json", "application/vnd.vegalite.v6+json", b"{"),
        ("", "*/*", "application/json", b"{"),
        ("?format=json", "image/png", "application/json", b"{"),
    ],
)
def test_the_form_that_was_asked_for(scene, words, accept, media_type, begins):
    reply = ask(scene, words, accept)
    assert reply.status_code == 200
    assert reply["Content-Type"].split(";")[0] == media_type
    assert reply.content.startswith(begins)


def test_the_specification_is_vega_lite_as_its_own_schema_says(scene):
    Chart.from_dict(ask(scene, "?format=vega").json(), validate=True)


@pytest.mark.parametrize("kind", ["load_match", "insertion_loss"])
def test_other_kinds_have_charts_too(scene, kind):
    reply = ask(scene, "?format=svg", kind=kind, sweep=factories.choke_s2p(5))
    assert reply.status_code == 200 and b"<svg" in reply.content


def test_readings_have_none(scene):
    reply = ask(scene, "?format=svg", readings=READINGS)
    assert (reply.status_code, reply.json()["code"]) == (404, "chart.nothing_to_draw")


def test_a_fault_is_a_problem_in_every_form(scene):
    reply = ask(scene, "?format=png", sweep=b"no sweep at all")
    assert reply.status_code == 400 and reply["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("words", ["?format=csv", "?format=svg&format=png", "?colour=red"])
def test_what_is_not_on_offer(scene, words):
    assert ask(scene, words).status_code == 400


def test_only_this_write_has_other_forms(scene):
    sent = {"json": factories.recipe(turns=3)}
    assert scene.ask("owner", "POST", "designs/?format=svg", **sent).status_code == 400


@pytest.mark.parametrize("words", ["", "?format=svg", "?format=png", "?format=vega"])
def test_nothing_is_kept(scene, words, tmp_path, monkeypatch, settings):
    """No row in any table but the count of requests, and no file; also of a sweep that is spooled to disk."""
    settings.FILE_UPLOAD_MAX_MEMORY_SIZE = 100
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    kept = files_under(django_settings.BENCHNIGHT_VAR)
    before = counts()
    assert ask(scene, words).status_code == 200
    assert counts() == before
    assert list(tmp_path.iterdir()) == [] and files_under(django_settings.BENCHNIGHT_VAR) == kept


def counts() -> dict[str, int]:
    return {
        model.__name__: model.objects.count() for model in apps.get_models() if model.__name__ != "UseCount"
    }


def files_under(place: Path) -> set[Path]:
    return {path for path in Path(place).rglob("*") if path.is_file() and "sqlite" not in path.name}


class TestAnalyser:
    """`analyser` describes the instrument; U and the decision follow from it."""

    def first_band(self, scene, **fields):
        reply = ask(scene, kind="insertion_loss", sweep=factories.choke_s2p(5), **fields)
        assert reply.status_code == 200, reply.json()
        return reply.json()["bands"][2]

    def test_a_better_one_is_believed_further(self, scene):
        plain = self.first_band(scene)
        better = self.first_band(
            scene, analyser='{"paths": 2, "reflection_residual": 0.002, "drift_db": 0, "noise": 0.0001}'
        )
        assert 0 < better["uncertainty"]["loss_db"] < plain["uncertainty"]["loss_db"]
        assert better["uncertainty_db"]["worst"] == better["uncertainty"]["loss_db"]
        assert {plain["decision"], better["decision"]} <= {
            "meets", "falls_short", "too_close", "not_judged"
        }  # fmt: skip

    @pytest.mark.parametrize(
        "given",
        [
            "mine",
            "[1]",
            '{"paths": 3}',
            '{"noise": "x"}',
            '{"drift_db": -1}',
            '{"colour": 1}',
            '{"noise": NaN}',
        ],
    )
    def test_what_describes_nothing_is_refused(self, scene, given):
        reply = ask(scene, sweep=factories.choke_s2p(), analyser=given)
        assert reply.status_code == 400
        assert {error["field"] for error in reply.json()["errors"]} == {"analyser"}
