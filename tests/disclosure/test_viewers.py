"""Viewers, circles and the group's thresholds."""

import pytest

from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS, Thresholds
from measurements.disclosure.viewers import ANONYMOUS, Viewer, get_circle


def test_only_signing_in_decides_the_circle():
    assert get_circle(ANONYMOUS) == "public"
    for role in ("member", "operator", "steward"):
        assert get_circle(Viewer(7, "Ada", role)) == "members"


@pytest.mark.parametrize(("member_id", "role"), [(None, "member"), (None, "steward"), (3, "anonymous")])
def test_a_half_signed_in_viewer_cannot_exist(member_id, role):
    with pytest.raises(ValueError, match="signed in"):
        Viewer(member_id, "Ada", role)


def test_roles_nest():
    assert [Viewer(1, "x", r).is_operator for r in ("member", "operator", "steward")] == [False, True, True]
    assert [Viewer(1, "x", r).is_steward for r in ("member", "operator", "steward")] == [False, False, True]
    assert not ANONYMOUS.is_operator


def test_house_thresholds_are_those_of_the_contract():
    assert Thresholds(3, 5, 3, 3) == DEFAULT_THRESHOLDS


@pytest.mark.parametrize(
    "wrong",
    [
        {"min_contributors": 1},
        {"public_min_contributors": 2},
        {"min_joiners": 2},
        {"votes_per_contributor": 0},
    ],
)
def test_thresholds_that_publish_one_person_are_refused(wrong):
    with pytest.raises(ValueError):
        Thresholds(**wrong)
