"""GET and POST predict/, POST identify/: computed from what the reader's circle sees, nothing stored."""

from __future__ import annotations

import pytest

from measurements.models import Design, LearnedModel, Test
from measurements.services.releases import learning
from tests import factories


@pytest.fixture
def taught(scene):
    learning.learn_models()
    yield scene
    LearnedModel.objects.all().delete()


def propose(scene, query: str, role: str = "stranger"):
    return scene.ask(role, "GET", f"predict/?{query}")


def test_proposals_are_ranked_and_say_what_they_rest_on(taught):
    found = propose(taught, "band=40m&band=80m&mix=31&mix=52&conductor=RG-316&limit=5").json()
    assert len(found["results"]) >= 2 and found["bands"] == ["80m", "40m"]
    assert [each["why"] for each in found["passed_over"]] == [
        "no permeability table of it is at hand, so nothing can be predicted"
    ]
    first = found["results"][0]
    assert first["rests_on"]["learned"] and first["rests_on"]["release"] == taught.release
    assert first["chance"] >= found["results"][-1]["chance"] - 0.03
    assert first["turns"] <= first["turns_that_fit"] and not first["wire_assumed"]
    assert found["validation"]["designs"] == 1 and found["cautions"][0]["title"] == "No power rating"
    assert not LearnedModel.objects.exclude(release=taught.release).exists()


def test_a_proposal_can_be_predicted_and_registered_as_it_is(taught):
    recipe = propose(taught, "band=40m&core=2631803802").json()["results"][0]["recipe"]
    row = taught.ask("stranger", "POST", "predict/", json={"recipe": recipe, "bands": ["40m", "10m"]}).json()
    assert len(row["freq_hz"]) == len(row["rejection_db"]["p10"]) and row["fits"] is None  # a wire of no size
    assert row["rejection_db"]["p10"][40] < row["rejection_db"]["median"][40] < row["rejection_db"]["p90"][40]
    assert [band["band"] for band in row["bands"]] == ["40m", "10m"]
    assert taught.ask("stranger", "POST", "designs/", json=recipe).status_code == 201


def test_a_recipe_with_evidence_is_linked_to_it(taught):
    design = Design.objects.get(key=taught.popular)
    row = taught.ask("stranger", "POST", "predict/", json={"recipe": design.recipe}).json()
    assert row["built"] and row["near"][0] == {
        "design": taught.popular,
        "title": design.title,
        "same": True,
    }
    assert row["chance"] is None and row["bands"] == [] and row["why"] == ""
    public = taught.ask("anonymous", "POST", "predict/", json={"recipe": design.recipe}).json()
    assert public["rests_on"]["devices"] == 5  # the lower end of the band that the public sees


def test_without_a_model_the_tables_stand_alone_and_a_read_writes_nothing(scene):
    assert not LearnedModel.objects.exists()
    found = propose(scene, "band=40m").json()
    assert found["release"] is None and found["validation"] is None
    assert not any(each["rests_on"]["learned"] or each["near"] for each in found["results"])
    assert not LearnedModel.objects.exists()


def test_a_band_that_a_table_does_not_cover_is_null_and_said(scene):
    recipe = factories.recipe(mix="61")
    row = scene.ask("owner", "POST", "predict/", json={"recipe": recipe, "bands": ["630m", "40m"]}).json()
    assert (
        row["chance"] is None and row["bands"][0]["chance"] is None and row["bands"][1]["chance"] is not None
    )
    assert row["covered_from_hz"] == 1e6 and "Of 630m the maker's table" in row["why"]


@pytest.mark.parametrize(
    ("query", "field", "code"),
    [
        ("", "band", "field.required"),
        ("band=41m", "band", "band.unknown"),
        ("band=40m&ratio=49:1", "ratio", "predict.ratio"),
        ("band=40m&ratio=2:1", "ratio", "predict.ratio"),
        ("band=40m&conductor=rope", "conductor", "predict.conductor"),
        ("band=40m&core=0000", "core", "predict.core"),
        ("band=40m&mix=99", "mix", "predict.mix"),
        ("band=40m&stacked=9", "stacked", "field.invalid_choice"),
        ("band=40m&benchmark_db=nan", "benchmark_db", "field.invalid"),
        ("band=40m&colour=red", "colour", "field.unknown"),
    ],
)
def test_what_is_wrong_with_a_wish_is_named(scene, query, field, code):
    refused = propose(scene, query)
    assert refused.status_code == 400
    assert [(each["field"], each["code"]) for each in refused.json()["errors"]] == [(field, code)]


@pytest.mark.parametrize(
    ("body", "field", "code"),
    [
        ({"recipe": factories.recipe(mix="52")}, "cores", "predict.mix"),
        ({"recipe": factories.recipe(principle="voltage", purpose="balun")}, "cores", "predict.recipe"),
        ({"recipe": factories.recipe(turns=0)}, "recipe.winding.turns", "recipe.whole_number"),
        ({"recipe": factories.recipe(), "bands": ["1m"]}, "band", "band.unknown"),
        ({}, "recipe", "field.required"),
        ({"recipe": factories.recipe(), "power_w": 100}, "power_w", "field.unknown"),
    ],
)
def test_what_is_wrong_with_a_recipe_is_named(scene, body, field, code):
    refused = scene.ask("anonymous", "POST", "predict/", json=body)
    assert refused.status_code == 400
    assert (field, code) in [(each["field"], each["code"]) for each in refused.json()["errors"]]


def identify(scene, **form):
    return scene.ask("anonymous", "POST", "identify/", form=form)


@pytest.mark.parametrize("mix", ["31", "43", "61", "73", "77"])
def test_the_mix_of_an_unmarked_core_is_told(scene, mix):
    before = Test.objects.count()
    found = identify(scene, turns="8", sweep=factories.wound_s2p(mix)).json()
    assert found["answer"] == "one" and found["mixes"][0]["mix"] == mix
    assert found["mixes"][0]["share"] > 0.9 and found["sentence"].startswith(
        f"Mix {mix}, of those with a table"
    )
    assert "52" in found["untabled"] and "cannot be ruled out" in found["sentence"]
    assert "within 0 %" not in found["sentence"], "a bound is rounded up: no fit is without a rest"
    assert Test.objects.count() == before


def test_two_mixes_that_are_alike_there_are_not_told_apart(scene):
    sizes = {"outer_mm": "61", "inner_mm": "35,55", "height_mm": "12.7"}
    sweep = factories.wound_s2p("31", low_hz=14e6)
    found = identify(scene, turns="8", sweep=sweep, **sizes).json()
    assert found["answer"] == "cannot_tell" and {each["mix"] for each in found["mixes"][:2]} == {"31", "43"}
    assert found["deciders"][0]["settles"] and found["deciders"][0]["from_hz"] < 14e6


@pytest.mark.parametrize(
    ("form", "field", "code"),
    [
        ({"sweep": factories.wound_s2p()}, "turns", "identify.turns"),
        ({"turns": "8"}, "sweep", "identify.no_sweep"),
        ({"turns": "eight", "sweep": factories.wound_s2p()}, "turns", "field.not_a_number"),
        ({"turns": "8", "outer_mm": "61", "sweep": factories.wound_s2p()}, "outer_mm", "identify.size"),
        (
            {
                "turns": "8",
                "outer_mm": "30",
                "inner_mm": "35",
                "height_mm": "12",
                "sweep": factories.wound_s2p(),
            },
            "outer_mm",
            "core.size",
        ),
        ({"turns": "8", "sweep": b"not a sweep"}, "sweep", "sweep.missing_option_line"),
        ({"turns": "8", "sweep": factories.wound_s2p(low_hz=20e6)}, "sweep", "identify.range"),
        ({"turns": "8", "far_open": factories.wound_s2p()}, "far_open", "identify.unknown_file"),
    ],
)
def test_what_is_wrong_with_a_core_is_named(scene, form, field, code):
    refused = identify(scene, **form)
    assert refused.status_code == 400
    assert [(each["field"], each["code"]) for each in refused.json()["errors"]] == [(field, code)]
