"""Guests claim their devices with the code on their card, and are one contributor with the member then."""

from __future__ import annotations

import random

import pytest

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import BenchRequest, Cell, ClaimCode, Contributor, NightContributor, PublishedVote
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.nights import nights
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import listed_devices
from measurements.services.devices import attendance
from measurements.services.devices import devices as devices_services
from measurements.services.nights import claim_codes, guests, persons
from measurements.services.releases import releases
from tests import club, factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def code_of(by, night, attendee) -> str:
    return guests.issue_claim_code(by=by, night=night, contributor_key=attendee)


class TestCodes:
    def test_are_easy_to_read_out_and_type(self):
        code = claim_codes.generate_code()
        assert [len(part) for part in code.split("-")] == [4, 4, 4]
        assert not set(code) & set("01oilu")
        assert claim_codes.parse_code(code.upper().replace("-", " ")) == code.replace("-", "")

    def test_a_single_slip_is_noticed(self):
        rng = random.Random(3)
        for _ in range(50):
            code = claim_codes.parse_code(claim_codes.generate_code())
            place = rng.randrange(len(code))
            other = rng.choice([char for char in claim_codes.ALPHABET if char != code[place]])
            with pytest.raises(BenchnightError):
                claim_codes.parse_code(code[:place] + other + code[place + 1 :])

    def test_the_check_symbol_is_luhns(self):
        # followed by hand: 2..z stand for 0..29; "3" is 1, doubled 2, and 30 - 2 = 28 is "y"
        assert claim_codes._compute_check_symbol("3") == "y"

    def test_only_a_hash_is_kept(self, by, night):
        code = code_of(by, night, club.guest(by, night))
        row = ClaimCode.objects.get()
        assert code not in (row.code_sha256,) and len(row.code_sha256) == 64


class TestClaiming:
    def test_the_devices_and_tests_become_the_members(self, by, night):
        guest = club.guest(by, night)
        device = club.guests_device(by, night, guest)
        made = club.record(by, device, night).key
        code = code_of(by, night, guest)
        assert nights.get_night(by, night).contributors[0].has_code
        ada = factories.member("Ada")
        refused("device.not_found", devices_selectors.get_device, viewer=ada, key=device)
        assert guests.claim_guest_devices(by=ada, code=code.upper()) == 1
        assert devices_selectors.get_device(ada, device).owner == "Ada"
        assert tests.get_test(ada, made).device == device
        (person,) = nights.get_night(by, night).contributors
        assert (person.name, person.is_guest, person.devices, person.has_code) == ("Gwenna", False, 1, False)
        assert not Contributor.objects.filter(guest_name="Gwenna").exists()
        refused("guest.code_unknown", guests.claim_guest_devices, by=ada, code=code)  # good for once

    def test_a_member_who_came_as_well_is_on_the_list_once(self, by, night):
        ada = factories.member("Ada")
        device = factories.device(ada, tag="A-1")
        asked = attendance.request_device(by=by, night=night, name="Ada", tag="A-1")
        assert attendance.answer_request(by=ada, request=BenchRequest.objects.get().key, yes=True) == device
        assert asked == BenchRequest.objects.get().key
        guest = club.guest(by, night)
        guests.claim_guest_devices(by=ada, code=code_of(by, night, guest))
        assert NightContributor.objects.count() == 1

    def test_equal_tags_are_said_and_nothing_is_moved(self, by, night):
        guest = club.guest(by, night)
        design = factories.design(by)
        club.guests_device(by, night, guest, design, "C-1")
        club.guests_device(by, night, guest, design, "C-2")
        ada = factories.member("Ada")
        own = factories.device(ada, design, "C-1")
        code = code_of(by, night, guest)
        fault = refused("guest.tag_taken", guests.claim_guest_devices, by=ada, code=code)
        assert "'C-1'" in fault.errors[0].detail and len(fault.errors) == 1
        assert fault.kind == "conflict"
        assert len(listed_devices.list_devices(ada).results) == 1
        devices_services.update_device(by=ada, device=own, version=1, tag="C-9")
        assert guests.claim_guest_devices(by=ada, code=code) == 2  # the code stayed good

    def test_a_newer_card_replaces_an_older(self, by, night):
        guest = club.guest(by, night)
        old, new = code_of(by, night, guest), code_of(by, night, guest)
        ada = factories.member("Ada")
        refused("guest.code_unknown", guests.claim_guest_devices, by=ada, code=old)
        assert guests.claim_guest_devices(by=ada, code=new) == 0

    def test_a_member_needs_no_code(self, by, night):
        attendee = club.guest(by, night, "Ada")
        code = code_of(by, night, attendee)
        guests.claim_guest_devices(by=factories.member("Ada"), code=code)
        refused("guest.is_member", guests.issue_claim_code, by=by, night=night, contributor_key=attendee)
        refused("night.nobody", guests.issue_claim_code, by=by, night=night, contributor_key="nosuch")

    def test_others_issue_none(self, by, night):
        guest = club.guest(by, night)
        other = club.operator("Ysolde")
        refused("night.not_found", guests.issue_claim_code, by=other, night=night, contributor_key=guest)

    def test_guessing_is_counted_slips_are_not(self, by, night, settings):
        settings.BENCHNIGHT_CLAIMS_PER_HOUR = 3
        ada = factories.member("Ada")
        for _ in range(5):
            refused("guest.code_mistyped", guests.claim_guest_devices, by=ada, code="2222-2222-2223")
        for _ in range(3):
            refused(
                "guest.code_unknown", guests.claim_guest_devices, by=ada, code=claim_codes.generate_code()
            )
        code = code_of(by, night, club.guest(by, night))
        refused("guest.too_many_tries", guests.claim_guest_devices, by=ada, code=code)
        assert guests.claim_guest_devices(by=factories.member("Bea"), code=code) == 0

    def test_nobody_signed_in_claims_nothing(self):
        refused(
            "sign_in.required", guests.claim_guest_devices, by=ANONYMOUS, code=claim_codes.generate_code()
        )


class TestThresholdsAfterwards:
    """A guest and a member who were counted as two are one: no release says otherwise after the claim."""

    def publish(self, by, night, *, claimer_has_one: bool) -> tuple[str, object, str]:
        """A published design of Ada or Bea, Cyn and the guest; answers it, Ada and the guest's code."""
        design = factories.design(by)
        names = ("Ada", "Cyn") if claimer_has_one else ("Bea", "Cyn")
        for seed, name in enumerate(names, start=40):
            member = factories.member(name)
            factories.record(
                member, factories.device(member, design, f"{name}-1"), factories.choke_s2p(seed=seed)
            )
        guest = club.guest(by, night)
        device = club.guests_device(by, night, guest, design)
        club.record(by, device, night, factories.choke_s2p(seed=50))
        persons.confirm_guests(by=factories.member("Stella", "steward"), night=night)
        made = releases.make_release(rng=random.Random(1))
        assert made.replaced == 1
        return design, factories.member("Ada"), code_of(by, night, guest)

    def test_three_who_were_two_are_withheld(self, by, night):
        design, ada, code = self.publish(by, night, claimer_has_one=True)
        assert Cell.objects.get(design__key=design).contributors == 3
        guests.claim_guest_devices(by=ada, code=code)
        assert len(set(PublishedVote.objects.values_list("contributor_key", flat=True))) == 2
        made = releases.make_release(rng=random.Random(2))
        assert (made.withheld, made.replaced) == (1, 0)

    def test_who_had_none_of_the_design_changes_nothing(self, by, night):
        design, ada, code = self.publish(by, night, claimer_has_one=False)
        guests.claim_guest_devices(by=ada, code=code)
        assert len(set(PublishedVote.objects.values_list("contributor_key", flat=True))) == 3
        made = releases.make_release(rng=random.Random(2))
        assert (made.kept, made.withheld, made.replaced) == (1, 0, 0)
        cell = Cell.objects.get(design__key=design)
        assert cell.last_release is None and cell.contributors == 3

    def test_a_claim_is_no_leaving_and_joining_behind_which_another_hides(self, by, night):
        """A claim makes nobody new: two newcomers and one claim wait, three newcomers do not."""
        design, ada, code = self.publish(by, night, claimer_has_one=False)
        guests.claim_guest_devices(by=ada, code=code)
        for name, seed in (("Dee", 60), ("Fay", 62)):
            member = factories.member(name)
            factories.record(
                member, factories.device(member, design, f"{name}-1"), factories.choke_s2p(seed=seed)
            )
        made = releases.make_release(rng=random.Random(3))
        assert (made.kept, made.replaced) == (1, 0)
        eve = factories.member("Eve")
        factories.record(eve, factories.device(eve, design, "E-1"), factories.choke_s2p(seed=61))
        assert releases.make_release(rng=random.Random(4)).replaced == 1
        assert Cell.objects.get(design__key=design, last_release=None).contributors == 6
