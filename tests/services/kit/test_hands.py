"""Owners, hand-overs, loans and kit keepers: who sees what, what survives, and whose votes a device has."""

from __future__ import annotations

import random

import pytest

from measurements.models import AuditEntry, Contributor, Device, Loan, PublishedVote, Result, Test
from measurements.selectors.accounts import viewers
from measurements.selectors.devices import devices as devices_read
from measurements.selectors.kit import hands
from measurements.selectors.tests import tests as tests_read
from measurements.selectors.upkeep import listed_devices
from measurements.services.accounts import membership
from measurements.services.devices import contributors, devices
from measurements.services.kit import handovers, loans
from measurements.services.releases import design_decisions, releases
from measurements.services.tests import tests
from tests import factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def steward(reference_data):
    return factories.member("Stella", "steward")


@pytest.fixture
def keeper(steward):
    factories.member("Kit")
    membership.set_kit_keeper(by=steward, name="Kit", keeps_kit=True)
    return viewers.find_viewer("Kit")


@pytest.fixture
def ada(reference_data):
    return factories.member("Ada")


def group_device(by, tag="G-1", design=None) -> str:
    return devices.register_device(by=by, design=design, tag=tag, of_group=True).key


def voters(design: str) -> set[str]:
    """Persons who would vote on a design now."""
    rows = Result.objects.filter(
        current=True, counts_as_evidence=True, test__shares_bytes=False, test__device__design__key=design
    )
    named = rows.annotate(person=contributors.build_voter_key("test__device__"))
    return set(named.values_list("person", flat=True))


class TestWhoSeesTheGroupsKit:
    def test_keepers_and_stewards_see_and_edit_it_and_members_do_not(self, keeper, steward, ada):
        key = group_device(keeper)
        for by in (keeper, steward):
            row = devices_read.get_device(by, key)
            assert (row.owner, row.of_group, row.design) == ("the group", True, None)
            devices.update_device(by=by, device=key, version=row.version, place="Shelf 2")
        refused("device.not_found", devices_read.get_device, viewer=ada, key=key)
        refused("device.not_found", devices.update_device, by=ada, device=key, version=3, place="x")
        assert key in [row.key for row in listed_devices.list_devices(keeper).results]
        assert not listed_devices.list_devices(ada).results

    def test_the_right_ends_when_a_steward_takes_it_away(self, keeper, steward):
        key = group_device(keeper)
        membership.set_kit_keeper(by=steward, name="Kit", keeps_kit=False)
        refused("device.not_found", devices_read.get_device, viewer=viewers.find_viewer("Kit"), key=key)
        lines = AuditEntry.objects.filter(subject="Kit", action__endswith="_kit").order_by("pk")
        assert [line.action for line in lines] == ["account.give_kit", "account.take_kit"]

    def test_only_stewards_give_the_right_and_only_keepers_register_kit(self, keeper, ada):
        refused("account.stewards_only", membership.set_kit_keeper, by=keeper, name="Ada", keeps_kit=True)
        refused("account.keepers_only", group_device, by=ada)

    def test_a_keeper_reads_tests_of_the_groups_kit_and_nobody_elses(self, keeper, ada, steward):
        own, kit = factories.record(ada, factories.device(ada)), group_device(keeper)
        test = factories.record(keeper, kit)
        assert tests_read.get_test(keeper, test).device == kit
        assert [row.key for row in tests_read.list_tests(keeper).results] == [test]
        refused("test.not_found", tests_read.get_test, viewer=keeper, key=own)
        refused("test.not_found", tests_read.get_test, viewer=ada, key=test)

    def test_an_operator_who_keeps_no_kit_sees_none_of_it(self, keeper):
        operator = factories.member("Osric", "operator")
        refused("device.not_found", devices_read.get_device, viewer=operator, key=group_device(keeper))


class TestHandingOver:
    def test_to_the_group_takes_a_keepers_yes(self, ada, keeper):
        key = factories.device(ada)
        test = factories.record(ada, key)
        offer = handovers.offer_device(by=ada, device=key, to_group=True)
        assert [row.key for row in hands.list_offers(keeper)] == [offer] and not hands.list_offers(ada)
        assert devices_read.get_device(ada, key).owner == "Ada"
        refused("handover.not_found", handovers.answer_offer, by=ada, offer=offer, yes=True)
        handovers.answer_offer(by=keeper, offer=offer, yes=True)
        assert devices_read.get_device(keeper, key).owner == "the group"
        assert tests_read.get_test(keeper, test).key == test
        refused("device.not_found", devices_read.get_device, viewer=ada, key=key)
        refused("handover.not_found", handovers.answer_offer, by=keeper, offer=offer, yes=True)

    def test_to_a_person_tells_nothing_about_accounts(self, ada):
        key = factories.device(ada)
        assert handovers.offer_device(by=ada, device=key, name="Nobody at all")
        handovers.take_offer_back(by=ada, device=key)
        bob = factories.member("Bob")
        offer = handovers.offer_device(by=ada, device=key, name="bob")
        assert devices_read.get_device(ada, key).owner == "Ada"
        refused("handover.offered", handovers.offer_device, by=ada, device=key, name="Bob")
        handovers.answer_offer(by=bob, offer=offer, yes=False)
        assert devices_read.get_device(ada, key).owner == "Ada"
        again = handovers.offer_device(by=ada, device=key, name="Bob")
        handovers.answer_offer(by=bob, offer=again, yes=True)
        assert devices_read.get_device(bob, key).owner == "Bob"

    def test_an_offer_is_void_once_it_changed_hands_or_was_taken_back(self, ada, keeper):
        key = factories.device(ada)
        offer = handovers.offer_device(by=ada, device=key, to_group=True)
        handovers.take_offer_back(by=ada, device=key)
        refused("handover.not_found", handovers.answer_offer, by=keeper, offer=offer, yes=True)

    def test_a_steward_gives_nobody_elses_device_away(self, ada, steward):
        key = factories.device(ada)
        refused("device.not_owner", handovers.offer_device, by=steward, device=key, to_group=True)

    def test_a_tag_that_the_new_owner_has_is_refused_and_nothing_is_moved(self, ada, keeper):
        group_device(keeper, tag="C-1")
        key = factories.device(ada, tag="C-1")
        offer = handovers.offer_device(by=ada, device=key, to_group=True)
        refused("device.tag_taken", handovers.answer_offer, by=keeper, offer=offer, yes=True)
        assert devices_read.get_device(ada, key).owner == "Ada" and hands.get_open_offer(ada, key)


class TestLeaving:
    def test_deleting_the_account_that_registered_kit_changes_nothing_of_it(self, keeper, steward):
        key = group_device(keeper)
        test = factories.record(keeper, key)
        before = devices_read.get_device(steward, key)
        membership.delete_account(by=keeper, name="Kit")
        assert devices_read.get_device(steward, key) == before
        assert tests_read.get_test(steward, test).key == test

    def test_what_was_handed_over_stays_with_its_history(self, ada, keeper):
        kept, given = factories.device(ada, tag="own"), factories.device(ada, tag="given")
        gone, stays = factories.record(ada, kept), factories.record(ada, given, factories.choke_s2p(seed=7))
        handovers.answer_offer(
            by=keeper, offer=handovers.offer_device(by=ada, device=given, to_group=True), yes=True
        )
        membership.delete_account(by=ada, name="Ada")
        assert tests_read.get_test(keeper, stays).key == stays
        assert not Test.objects.filter(key=gone).exists()
        left = Device.objects.get(key=given).voter
        assert left is not None and left.member_id is None and left.guest_name == ""

    def test_a_leavers_name_goes_out_of_every_loan(self, ada, keeper):
        key = group_device(keeper)
        loans.lend_device(by=keeper, device=key, borrower="ada")
        membership.delete_account(by=ada, name="Ada")
        assert Loan.objects.get().borrower == "somebody who left"


class TestLoans:
    def test_lending_and_returning_leave_owner_and_votes_alone(self, keeper, ada):
        key = group_device(keeper)
        loans.lend_device(by=keeper, device=key, borrower="Ada")
        row = devices_read.get_device(keeper, key)
        assert (row.owner, row.lent_to) == ("the group", "Ada") and row.lent_on is not None
        refused("device.not_found", devices_read.get_device, viewer=ada, key=key)
        refused("loan.lent", loans.lend_device, by=keeper, device=key, borrower="Bob")
        loans.return_device(by=keeper, device=key)
        refused("loan.not_lent", loans.return_device, by=keeper, device=key)
        assert devices_read.get_device(keeper, key).lent_to == ""
        (loan,) = hands.list_loans(keeper, key)
        assert loan.borrower == "Ada" and loan.returned_on is not None

    @pytest.mark.parametrize("borrower", ["", "  ", "x" * 65, "a\x07b"])
    def test_a_borrower_is_a_name(self, keeper, borrower):
        refused("loan.borrower", loans.lend_device, by=keeper, device=group_device(keeper), borrower=borrower)


class TestWhoseVotes:
    """Trade, section 8: a person is an account or a confirmed guest; the group is at most one person."""

    def test_handing_one_persons_builds_to_three_makes_no_three_persons(self, ada, keeper):
        design = factories.design(ada)
        made = [factories.device(ada, design, tag=f"A-{n}") for n in range(4)]
        for number, key in enumerate(made):
            factories.record(ada, key, factories.choke_s2p(seed=40 + number))
        assert len(voters(design)) == 1
        for name, key in zip(("Bob", "Cleo"), made, strict=False):
            other = factories.member(name)
            offer = handovers.offer_device(by=ada, device=key, name=name)
            handovers.answer_offer(by=other, offer=offer, yes=True)
            factories.record(other, key, factories.choke_s2p(seed=60 + len(name)))
        offer = handovers.offer_device(by=ada, device=made[2], to_group=True)
        handovers.answer_offer(by=keeper, offer=offer, yes=True)
        assert len(voters(design)) == 1
        membership.delete_account(by=ada, name="Ada")
        assert len(voters(design)) == 1
        releases.make_release()
        assert not PublishedVote.objects.exists()

    def test_the_groups_own_kit_is_one_person_with_the_unconfirmed_guests(self, keeper):
        design = factories.design(keeper)
        for number in range(3):
            key = group_device(keeper, f"G-{number}", design)
            factories.record(keeper, key, factories.choke_s2p(seed=80 + number))
        assert voters(design) == {contributors.UNCONFIRMED}

    def test_a_device_from_the_group_still_votes_as_the_groups(self, keeper, ada):
        design = factories.design(keeper)
        key = group_device(keeper, "G-1", design)
        factories.record(keeper, key)
        offer = handovers.offer_device(by=keeper, device=key, name="Ada")
        handovers.answer_offer(by=ada, offer=offer, yes=True)
        assert voters(design) == {contributors.UNCONFIRMED}

    @pytest.mark.parametrize("seed", range(4))
    def test_no_handing_around_ever_raises_the_number_of_persons(self, steward, seed):
        """Random hand-overs, returns and leavings: the count never rises. (Own simulation.)"""
        rng = random.Random(seed)
        names = ["P0", "P1", "P2", "P3"]
        people = {name: factories.member(name) for name in names}
        design = factories.design(people["P0"])
        for number in range(6):
            by = people[rng.choice(names[:2])]
            key = factories.device(by, design, tag=f"{seed}-{number}")
            factories.record(by, key, factories.choke_s2p(seed=900 + 10 * seed + number))
        first_owner = dict(Device.objects.values_list("key", "contributor__member__name"))
        count = len(voters(design))
        assert count == len(set(first_owner.values()))
        for _ in range(14):
            _take_a_random_step(rng, people, steward)
            left = {first_owner[key] for key in Device.objects.values_list("key", flat=True)}
            assert len(voters(design)) == len(left) <= count
            count = len(voters(design))

    def test_candidates_of_a_release_carry_that_person(self, ada, keeper):
        key = factories.device(ada)
        factories.record(ada, key)
        person = contributors.get_person_key(Contributor.objects.get(member__name="Ada"))
        offer = handovers.offer_device(by=ada, device=key, to_group=True)
        handovers.answer_offer(by=keeper, offer=offer, yes=True)
        design = Device.objects.get().design_id
        (found,) = design_decisions._list_candidates([design], "common_mode")[design]
        assert found.contributor == person

    def test_a_device_of_unknown_build_votes_nowhere_and_votes_once_its_design_is_known(self, ada):
        key = devices.register_device(by=ada, design=None, tag="sealed", kind="choke", make="bought").key
        test = factories.record(ada, key)
        releases.make_release()
        assert not design_decisions.query_voting_results().exists()
        design = factories.design(ada)
        version = devices_read.get_device(ada, key).version
        devices.update_device(by=ada, device=key, version=version, design=design)
        assert tests_read.list_tests(ada, device=key).results[0].design == design
        assert not voters(design)  # the curve is held against the recipe now, and its owner is asked
        tests.confirm_recipe(by=ada, test=test)
        assert voters(design) == {Contributor.objects.get(member__name="Ada").key}


def _take_a_random_step(rng, people, steward) -> None:
    device = rng.choice(list(Device.objects.select_related("contributor__member")))
    owner = device.contributor
    if rng.random() < 0.1 and len(people) > 2:
        name = rng.choice(sorted(people))
        membership.delete_account(by=people.pop(name), name=name)
        return
    by = steward if owner.is_group else people[owner.member.name]
    if rng.random() < 0.4:
        if not owner.is_group:
            offer = handovers.offer_device(by=by, device=device.key, to_group=True)
            handovers.answer_offer(by=steward, offer=offer, yes=True)
        return
    name = rng.choice([name for name in sorted(people) if owner.is_group or name != owner.member.name])
    offer = handovers.offer_device(by=by, device=device.key, name=name)
    handovers.answer_offer(by=people[name], offer=offer, yes=True)
