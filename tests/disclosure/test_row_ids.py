"""Ids and order of published rows tell nothing."""

import random
import uuid

import pytest

from measurements.disclosure import release_rows


def test_another_release_gives_other_ids_and_another_order():
    rng = random.Random(1)
    rows = [str(uuid.UUID(int=rng.getrandbits(128))) for _ in range(200)]
    first = release_rows.order_by_row_id(release_rows.create_salt(rng), rows, str)
    second = release_rows.order_by_row_id(release_rows.create_salt(rng), rows, str)
    assert {row for _, row in first} == {row for _, row in second} == set(rows)
    assert not {i for i, _ in first} & {i for i, _ in second}
    places = {row: place for place, (_, row) in enumerate(second)}
    # Order of one release against the other: a rank correlation of about 0, three sigma is 0.21.
    concordance = sum((place - 99.5) * (places[row] - 99.5) for place, (_, row) in enumerate(first))
    assert abs(concordance) / (200 * (200**2 - 1) / 12) < 0.21


def test_the_order_does_not_depend_on_the_order_given():
    salt = release_rows.create_salt(random.Random(2))
    rows = [f"row {n}" for n in range(30)]
    assert release_rows.order_by_row_id(salt, rows, str) == release_rows.order_by_row_id(
        salt, rows[::-1], str
    )


def test_within_a_release_an_id_is_steady_and_distinct():
    salt = release_rows.create_salt(random.Random(3))
    ids = {release_rows.compute_row_id(salt, f"{n}") for n in range(5000)}
    assert len(ids) == 5000
    assert release_rows.compute_row_id(salt, "7") in ids
    assert all(len(one) == 24 and int(one, 16) >= 0 for one in ids)


def test_without_a_salt_there_are_no_ids():
    with pytest.raises(ValueError, match="32 bytes"):
        release_rows.compute_row_id(b"", "7")


def test_shuffling_keeps_the_rows_and_the_argument():
    rows = list(range(50))
    mixed = release_rows.shuffle_rows(rows, random.Random(4))
    assert rows == list(range(50))
    assert sorted(mixed) == rows
    assert mixed != rows
