"""Who may see and alter what: one table for every role against every thing."""

import pytest

from measurements.disclosure import policy
from measurements.disclosure.policy import NightStaff, Ownership
from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.errors import BenchnightError

OWNER = Viewer(1, "owner", "member")
OTHER = Viewer(2, "other", "member")
NIGHTS_OPERATOR = Viewer(3, "operator of the night", "operator")
OTHER_OPERATOR = Viewer(4, "operator elsewhere", "operator")
STEWARD = Viewer(5, "steward", "steward")
FORMER_OPERATOR = Viewer(3, "no longer an operator", "member")
VIEWERS = [ANONYMOUS, OWNER, OTHER, NIGHTS_OPERATOR, OTHER_OPERATOR, STEWARD, FORMER_OPERATOR]

AT_NIGHT = Ownership(owner_member_id=1, night_operator_ids=frozenset({3}))
AT_HOME = Ownership(owner_member_id=1)
GUESTS = Ownership(owner_member_id=None, night_operator_ids=frozenset({3}))
NIGHT = NightStaff(frozenset({3}))

#                 anonymous owner other night's other-op steward former
SEE = {
    "at_night": (AT_NIGHT, [0, 1, 0, 1, 0, 1, 0]),
    "at_home": (AT_HOME, [0, 1, 0, 0, 0, 1, 0]),
    "guests": (GUESTS, [0, 0, 0, 1, 0, 1, 0]),
}
# what an operator never sees or does of a device on the bench
OWN = {
    "at_night": (AT_NIGHT, [0, 1, 0, 0, 0, 1, 0]),
    "at_home": (AT_HOME, [0, 1, 0, 0, 0, 1, 0]),
    "guests": (GUESTS, [0, 0, 0, 0, 0, 1, 0]),
}


def allowed(check, *values):
    """Whether `check` lets each viewer pass, and the errors of those it does not."""
    verdicts, errors = [], []
    for viewer in VIEWERS:
        try:
            check(viewer, *values)
            verdicts.append(1)
        except BenchnightError as error:
            verdicts.append(0)
            errors.append(error)
    return verdicts, errors


@pytest.mark.parametrize("case", SEE)
@pytest.mark.parametrize(
    ("deed", "table"),
    [
        ("see_device", OWN),
        ("alter_device", OWN),
        ("withdraw_test", OWN),
        ("see_test", SEE),
        ("see_device_on_bench", SEE),
    ],
)
def test_seeing_and_altering(case, deed, table):
    ownership, expected = table[case]
    verdicts, errors = allowed(getattr(policy, f"check_{deed}"), ownership)
    assert verdicts == expected
    assert [int(getattr(policy, f"can_{deed}")(viewer, ownership)) for viewer in VIEWERS] == expected
    # Existence is private: the answer is that of a wrong address, to the letter.
    thing = deed.split("_")[1]
    absent = policy.build_not_found(thing)
    assert {(e.code, e.detail, e.kind) for e in errors} == {
        (f"{thing}.not_found", absent.detail, "not_found")
    }


def test_recording_a_test():
    assert allowed(policy.check_record_test, AT_HOME)[0] == [0, 1, 0, 0, 0, 1, 0]
    verdicts, errors = allowed(policy.check_record_test, AT_HOME, NIGHT)
    assert verdicts == [0, 1, 0, 1, 0, 1, 0]
    assert {error.code for error in errors} == {"sign_in.required", "device.not_found"}


@pytest.mark.parametrize("deed", ["see_night", "alter_night"])
def test_nights(deed):
    verdicts, errors = allowed(getattr(policy, f"check_{deed}"), NIGHT)
    assert verdicts == [0, 0, 0, 1, 0, 1, 0]
    assert {error.kind for error in errors} == {"not_found"}
    assert {error.code for error in errors} <= {"sign_in.required", "night.not_found"}


@pytest.mark.parametrize(
    ("check", "expected", "codes"),
    [
        (policy.check_signed_in, [0, 1, 1, 1, 1, 1, 1], {"sign_in.required"}),
        (
            policy.check_operator,
            [0, 0, 0, 1, 1, 1, 0],
            {"sign_in.required", "account.operators_only"},
        ),
        (policy.check_steward, [0, 0, 0, 0, 0, 1, 0], {"sign_in.required", "account.stewards_only"}),
    ],
)
def test_roles(check, expected, codes):
    verdicts, errors = allowed(check)
    assert verdicts == expected
    assert {error.code for error in errors} == codes
    assert {error.kind for error in errors} == {"forbidden"}


def test_nobody_owns_what_nobody_owns():
    assert not policy.can_see_device(ANONYMOUS, Ownership(owner_member_id=None))


def test_only_its_owner_chooses_whether_a_test_is_published():
    """Not a steward, and nobody for a guest's; the group's keepers for the group's."""
    for case, (ownership, _) in OWN.items():
        expected = [0, int(case != "guests"), 0, 0, 0, 0, 0]
        assert allowed(policy.check_publish_test, ownership)[0] == expected, case
    keeper = Viewer(6, "keeper", "member", keeps_kit=True)
    policy.check_publish_test(keeper, Ownership(owner_member_id=None, of_group=True))


def test_every_check_has_a_case_here():
    checks = {name for name in vars(policy) if name.startswith("check_")}
    here = {
        *(
            "check_see_device",
            "check_see_device_on_bench",
            "check_alter_device",
            "check_see_test",
            "check_withdraw_test",
            "check_publish_test",
        ),
        *("check_record_test", "check_see_night", "check_alter_night"),
        *("check_signed_in", "check_operator", "check_steward", "check_keeper"),
    }
    assert checks == here
