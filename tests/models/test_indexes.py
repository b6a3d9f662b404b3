"""Indexes of the tables that grow with every test: each is written with every upload."""

from __future__ import annotations

import itertools

import pytest
from django.db import connection

from measurements.models import Result, SweepFile, Test

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("model", [Test, SweepFile, Result])
def test_no_index_repeats_the_beginning_of_another(model):
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, model._meta.db_table)
    # an index for LIKE, or on some rows only, is another thing
    plain = {name: each["columns"] for name, each in found.items() if each["index"] or each["unique"]}
    partial = {
        constraint.name for constraint in model._meta.constraints if getattr(constraint, "condition", None)
    }
    partial |= {index.name for index in model._meta.indexes if index.condition}
    plain = {name: columns for name, columns in plain.items() if name not in partial and "_like" not in name}
    assert len(plain) >= 1
    for (one, columns), (other, longer) in itertools.permutations(plain.items(), 2):
        assert longer[: len(columns)] != columns, f"{one} stands in {other}"
