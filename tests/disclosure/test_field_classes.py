"""Every stored field has a disclosure class: the table is total, and nothing in it is stale."""

import pytest
from django.apps import apps

from measurements.disclosure import field_classes

OUR_APPS = [
    config for config in apps.get_app_configs() if config.name.split(".")[0] in ("measurements", "api")
]
MODELS = {model.__name__: model for config in OUR_APPS for model in config.get_models()}
EVIDENCE = ("Cell", "Release", "ReleaseFile")
OF_PEOPLE = (
    "Member",
    "Contributor",
    "Device",
    "Test",
    "SweepFile",
    "Result",
    "StagedUpload",
    "PublishedVote",
)


def stored(model) -> set[str]:
    return {field.name for field in (*model._meta.concrete_fields, *model._meta.many_to_many)}


def fields_of(model_name: str, *classes: str) -> set[str]:
    """The fields of a table in these classes; all of its fields when none is given."""
    wanted = classes or field_classes.CLASS_NAMES
    return {
        field
        for (model, field), found in field_classes.FIELD_CLASSES.items()
        if model == model_name and found in wanted
    }


def undecided(models) -> set[str]:
    return {f"{name}.{f}" for name, model in models.items() for f in stored(model) - fields_of(name)}


def stale(models) -> set[str]:
    known = {(name, field) for name, model in models.items() for field in stored(model)}
    return {".".join(entry) for entry in field_classes.FIELD_CLASSES if entry not in known}


def test_every_stored_field_has_a_class():
    assert len(MODELS) > 15
    assert undecided(MODELS) == set(), "Decide in disclosure/field_classes.py who may see these."


def test_nothing_is_listed_that_is_not_stored():
    assert stale(MODELS) == set(), "Take these out of disclosure/field_classes.py."


def test_two_models_never_share_a_name():
    names = [model.__name__ for config in OUR_APPS for model in config.get_models()]
    assert len(names) == len(set(names))


def test_the_test_does_find_a_new_and_a_stale_field():
    device, test = MODELS["Device"], MODELS["Test"]
    assert "Device.measured_on" in undecided({"Device": test})
    assert "Test.measured_on" in stale({"Test": device})


@pytest.mark.parametrize("name", EVIDENCE)
def test_evidence_tables_hold_nothing_of_an_owner_and_lead_to_nobody(name):
    assert fields_of(name, "owner", "operator", "steward") == set()
    related = {
        field.related_model.__name__ for field in MODELS[name]._meta.concrete_fields if field.is_relation
    }
    assert not related & set(OF_PEOPLE)


def test_the_ledger_holds_keys_not_references():
    """It outlives tests and accounts, and no join may lead from a person to an evidence row."""
    references = [f.name for f in MODELS["PublishedVote"]._meta.concrete_fields if f.is_relation]
    assert references == ["cell"]
    assert field_classes.FIELD_CLASSES["PublishedVote", "contributor_key"] == "never"


@pytest.mark.parametrize("name", [name for name in OF_PEOPLE if name in MODELS])
def test_nothing_of_a_person_is_for_everybody(name):
    assert fields_of(name, "public", "members") == set()


def test_secrets_and_row_numbers_never_leave():
    for (model, field), found in field_classes.FIELD_CLASSES.items():
        if field in ("id", "password", "salt", "digest") or field.startswith("secret"):
            assert found == "never", f"{model}.{field}"


def test_a_field_in_two_classes_is_refused():
    with pytest.raises(ValueError, match=r"Device\.tag is listed twice"):
        dict(field_classes._list_field_classes({"Device": {"public": "tag", "owner": "key tag"}}))
