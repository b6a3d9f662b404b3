"""Accounts under stewards: invited, given roles, suspended, revoked; deleted whole; one steward stays."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from measurements.errors import BenchnightError
from measurements.models import (
    AuditEntry,
    Cell,
    Contributor,
    Device,
    Member,
    PublishedVote,
    SignInLink,
    SweepFile,
    Test,
)
from measurements.services.accounts import access_tokens, accounts, membership
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
PASSWORD = "five lamps over the bench"


@pytest.fixture
def steward():
    return factories.member("stella", "steward")


@pytest.fixture
def ada():
    return factories.member("Ada")


def browser(viewer) -> Client:
    client = Client()
    client.force_login(get_user_model().objects.get(pk=viewer.member_id))
    return client


def is_in(client: Client) -> bool:
    return client.get("/account/").status_code == 200


def refusal(write) -> BenchnightError:
    with pytest.raises(BenchnightError) as refused:
        write()
    return refused.value


def test_an_invited_member_comes_in_by_the_link_once(steward):
    secret = membership.invite_member(by=steward, name=" Nils  Holm ", role="operator")
    member = Member.objects.get(name="Nils Holm")
    assert (member.role, member.has_usable_password()) == ("operator", False)
    assert accounts.redeem_sign_in_link(secret=secret) == member.pk
    assert refusal(lambda: accounts.redeem_sign_in_link(secret=secret)).code == "account.link_spent"
    actions = list(AuditEntry.objects.filter(actor="stella").values_list("action", flat=True))
    assert actions == ["account.invite", "account.issue_link"]
    assert not AuditEntry.objects.filter(detail__icontains=secret).exists()


@pytest.mark.parametrize(
    ("name", "role", "code"),
    [
        ("ADA", "member", "account.name_taken"),
        ("a/b", "member", "account.name"),
        ("", "member", "account.name"),
        ("Nils\n", "member", None),
        ("Nils", "king", "account.role"),
    ],
)
def test_what_cannot_be_invited(steward, ada, name, role, code):
    if code is None:
        assert membership.invite_member(by=steward, name=name, role=role)
        return
    assert refusal(lambda: membership.invite_member(by=steward, name=name, role=role)).code == code


def test_a_new_link_takes_the_place_of_the_old_one(steward, ada):
    first = membership.reissue_sign_in_link(by=steward, name="Ada")
    second = membership.reissue_sign_in_link(by=steward, name="Ada")
    assert refusal(lambda: accounts.redeem_sign_in_link(secret=first)).code == "account.link_spent"
    assert accounts.redeem_sign_in_link(secret=second) == ada.member_id


def test_suspending_ends_sessions_tokens_and_links_for_good(steward, ada):
    client, secret = browser(ada), membership.reissue_sign_in_link(by=steward, name="Ada")
    token = access_tokens.issue_token(name="Ada", days=1)
    accounts.set_password(by=ada, password=PASSWORD)
    client = browser(ada)
    asked = {"headers": {"Authorization": f"Token {token}"}}
    assert is_in(client) and Client().get("/api/v1/tests/", **asked).status_code == 200
    membership.suspend_member(by=steward, name="Ada")
    assert not is_in(client)
    assert Client().get("/api/v1/tests/", **asked).status_code == 401
    assert (
        refusal(lambda: accounts.authenticate_member(name="Ada", password=PASSWORD)).code
        == "account.wrong_sign_in"
    )
    assert (
        refusal(lambda: membership.reissue_sign_in_link(by=steward, name="Ada")).code == "account.suspended"
    )
    assert (
        refusal(lambda: membership.suspend_member(by=steward, name="Ada")).code == "account.suspended_already"
    )
    membership.unsuspend_member(by=steward, name="Ada")
    assert not is_in(client)
    assert Client().get("/api/v1/tests/", **asked).status_code == 401
    assert refusal(lambda: accounts.redeem_sign_in_link(secret=secret)).code == "account.link_spent"
    assert accounts.authenticate_member(name="Ada", password=PASSWORD) == ada.member_id
    noted = AuditEntry.objects.filter(actor="stella").order_by("pk").values_list("action", flat=True)
    assert list(noted)[-2:] == ["account.suspend", "account.unsuspend"]


def test_revoking_ends_what_is_signed_in_and_leaves_the_password(steward, ada):
    accounts.set_password(by=ada, password=PASSWORD)
    client, token = browser(ada), access_tokens.issue_token(name="Ada", days=1)
    membership.revoke_sign_ins(by=steward, name="Ada")
    assert not is_in(client)
    headers = {"Authorization": f"Token {token}"}
    assert Client().get("/api/v1/tests/", headers=headers).status_code == 401
    assert accounts.authenticate_member(name="Ada", password=PASSWORD) == ada.member_id


def test_signing_out_everywhere_ends_the_own_sessions_and_no_others(steward, ada):
    here, elsewhere, other = browser(ada), browser(ada), browser(steward)
    membership.sign_out_everywhere(by=ada)
    assert [is_in(client) for client in (here, elsewhere, other)] == [False, False, True]


def test_a_role_counts_at_once(steward, ada):
    client = browser(ada)
    assert client.get("/nights/").status_code == 403
    membership.change_member_role(by=steward, name="Ada", role="operator")
    assert client.get("/nights/").status_code == 200
    entry = AuditEntry.objects.get(action="account.change_role")
    assert (entry.subject, entry.detail) == ("Ada", {"before": "member", "after": "operator"})


def test_the_last_steward_stays(steward, ada):
    for write in (
        lambda: membership.suspend_member(by=steward, name="stella"),
        lambda: membership.change_member_role(by=steward, name="stella", role="member"),
        lambda: membership.delete_account(by=steward, name="stella"),
    ):
        assert refusal(write).code == "account.last_steward"
    membership.change_member_role(by=steward, name="Ada", role="steward")
    membership.suspend_member(by=steward, name="Ada")  # a suspended steward is none
    assert (
        refusal(lambda: membership.suspend_member(by=steward, name="stella")).code == "account.last_steward"
    )
    membership.unsuspend_member(by=steward, name="Ada")
    membership.change_member_role(by=steward, name="stella", role="member")
    assert Member.objects.get(name="stella").role == "member"


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_decide_about_accounts(ada, role):
    somebody = factories.member("mo", role)
    for write in (
        lambda: membership.invite_member(by=somebody, name="New", role="steward"),
        lambda: membership.reissue_sign_in_link(by=somebody, name="Ada"),
        lambda: membership.change_member_role(by=somebody, name="mo", role="steward"),
        lambda: membership.suspend_member(by=somebody, name="Ada"),
        lambda: membership.unsuspend_member(by=somebody, name="Ada"),
        lambda: membership.revoke_sign_ins(by=somebody, name="Ada"),
    ):
        assert refusal(write).code == "account.stewards_only"
    assert not SignInLink.objects.exists()


def test_the_present_password_is_known_and_replaced(ada):
    wrong = refusal(lambda: accounts.check_current_password(by=ada, password=""))  # there is none yet
    accounts.set_password(by=ada, password=PASSWORD)
    for error in (
        wrong,
        refusal(lambda: accounts.check_current_password(by=ada, password="ten lamps over it")),
    ):
        assert (error.code, error.errors[0].field) == ("account.present_password", "present")
    accounts.check_current_password(by=ada, password=PASSWORD)
    accounts.set_password(by=ada, password="ten lamps over the bench")
    assert accounts.authenticate_member(name="Ada", password="ten lamps over the bench") == ada.member_id
    assert Member.objects.get(name="Ada").password.startswith("argon2")


def test_with_an_account_goes_all_that_is_its_and_nothing_else(steward):
    design = factories.evidence(6)
    person, other = factories.member("person-0"), factories.member("person-1")
    second = factories.device(person, design, tag="second")
    factories.record(person, second, factories.choke_s2p(seed=77))
    releases.make_release()
    key = Contributor.objects.get(member=person.member_id).key
    assert membership.delete_account(by=person, name="person-0") == 2
    assert not Member.objects.filter(name="person-0").exists()
    assert not Contributor.objects.filter(key=key).exists()
    assert Device.objects.count() == Test.objects.count() == SweepFile.objects.count() == 5
    assert Device.objects.filter(contributor__member=other.member_id).count() == 1
    # what was published stays as it was until three others join; then nothing of it is in what is made
    releases.make_release()
    assert Cell.objects.get(band="", last_release=None).devices == 7
    factories.evidence(3, first=10)
    releases.make_release()
    assert not PublishedVote.objects.filter(contributor_key=key, cell__last_release=None).exists()
    entry = AuditEntry.objects.get(action="account.delete")
    assert (entry.actor, entry.subject, entry.detail) == ("person-0", "person-0", {"devices": 2, "tests": 2})
    taken = refusal(lambda: membership.invite_member(by=steward, name="Person-0", role="member"))
    assert taken.code == "account.name_taken" and "deleted" in taken.detail


def test_deleting_asks_for_name_and_password(ada):
    accounts.set_password(by=ada, password=PASSWORD)
    for given, code, field in (
        ({"name": "ada", "password": PASSWORD}, "account.name_differs", "name"),
        ({"name": "Ada", "password": "wrong"}, "account.password_differs", "password"),
        ({"name": "Ada"}, "account.password_differs", "password"),
    ):
        error = refusal(lambda given=given: membership.delete_account(by=ada, **given))
        assert (error.code, error.errors[0].field) == (code, field)
    assert Member.objects.filter(name="Ada").exists()
    assert membership.delete_account(by=ada, name="Ada", password=PASSWORD) == 0


def test_file_names_of_intakes_go_too(steward, ada):
    from django.utils import timezone

    from measurements.models import Intake, IntakeFile, Night

    test = factories.record(ada, factories.device(ada))
    night = Night.objects.create(held_on=timezone.now().date())
    intake = Intake.objects.create(night=night)
    file = IntakeFile.objects.create(
        intake=intake,
        number=1,
        name="ada-choke.s2p",
        assignment={"tag": "A-1"},
        unit=1,
        raw=b"",
        raw_sha256="0" * 64,
        test=Test.objects.get(key=test),
    )
    membership.delete_account(by=ada, name="Ada")
    file.refresh_from_db()
    assert (file.name, file.assignment, file.raw_sha256, file.test) == ("(withdrawn)", {}, "", None)
