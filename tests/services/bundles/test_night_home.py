"""A night off the grid comes home in a bundle: nothing lost, nothing twice, nobody counted twice."""

import pytest

from measurements.errors import BenchnightError
from measurements.models import (
    Contributor,
    Device,
    LabelCode,
    Night,
    NightContributor,
    Result,
    SweepFile,
    Test,
)
from measurements.services.bundles import exports, signing
from measurements.services.devices import attendance, contributors, label_codes
from measurements.services.nights import guests, persons
from tests import factories
from tests.services.bundles import two_servers

pytestmark = pytest.mark.django_db


@pytest.fixture
def field_var(settings, tmp_path):
    settings.BENCHNIGHT_VAR = tmp_path / "home"
    return tmp_path / "field"


@pytest.fixture
def night_bundle(settings, field_var):
    """A night of three guests with two devices each, held elsewhere; and what was stored there."""
    with two_servers.other_server(settings, field_var):
        night, devices, tests = two_servers.hold_night()
        bundle = two_servers.export(exports.select_night(night, by=None))
        stored = _list_stored()
        key = signing.get_public_key()
    two_servers.trust(key)
    return bundle, night, devices, tests, stored


def _list_stored():
    figures = {
        key: {name: value for name, value in figures.items() if name != "computed_at"}
        for key, figures in Result.objects.filter(current=True).values_list("test__key", "figures")
    }
    hashes = set(SweepFile.objects.values_list("test__key", "role", "raw_sha256"))
    return figures, hashes, set(Test.objects.values_list("key", "content_sha256", "recorded_at"))


def test_a_night_comes_home_whole(night_bundle):
    bundle, night, devices, _tests, stored = night_bundle
    outcome = two_servers.take(bundle)
    assert outcome.conflicts == outcome.changed == 0
    assert _list_stored() == stored
    assert set(Device.objects.values_list("key", flat=True)) == set(devices)
    assert Night.objects.get().key == night and NightContributor.objects.count() == 3


def test_a_preview_says_what_the_import_does_and_stores_nothing(night_bundle):
    bundle = night_bundle[0]
    seen = two_servers.take(bundle, apply=False)
    assert not Device.objects.exists() and not Night.objects.exists() and not Contributor.objects.exists()
    done = two_servers.take(bundle)
    assert (seen.lines, seen.counts) == (done.lines, done.counts)


def test_importing_twice_changes_nothing(night_bundle):
    bundle = night_bundle[0]
    first = two_servers.take(bundle)
    stored = _list_stored(), list(Device.objects.order_by("pk").values())
    again = two_servers.take(bundle)
    assert (again.new, again.changed, again.conflicts) == (0, 0, 0)
    assert again.unchanged >= first.new and not again.lines
    assert (_list_stored(), list(Device.objects.order_by("pk").values())) == stored


def _count_persons():
    keys = Contributor.objects.annotate(person_key=contributors.build_person_key())
    return set(keys.values_list("person_key", flat=True))


class TestPersons:
    def test_guests_come_unconfirmed_and_wait_for_both_servers(self, night_bundle):
        bundle, night, *_ = night_bundle
        two_servers.take(bundle)
        steward = factories.member("head", "steward")
        assert _count_persons() == {contributors.UNCONFIRMED}
        assert persons.confirm_guests(by=steward, night=night) == 0

    def test_confirmed_there_and_here_counts_each_once(self, settings, field_var):
        with two_servers.other_server(settings, field_var):
            night, *_ = two_servers.hold_night()
            persons.confirm_guests(by=factories.member("box-head", "steward"), night=night)
            bundle, key = two_servers.export(exports.select_night(night, by=None)), signing.get_public_key()
        two_servers.trust(key)
        two_servers.take(bundle)
        assert _count_persons() == {contributors.UNCONFIRMED}
        assert persons.confirm_guests(by=factories.member("head", "steward"), night=night) == 3
        two_servers.take(bundle)
        assert len(_count_persons()) == 3

    def test_the_code_on_a_guests_card_claims_at_home(self, settings, field_var):
        with two_servers.other_server(settings, field_var):
            night, *_ = two_servers.hold_night(people=1)
            operator = factories.member("bench-op", "operator")
            code = guests.issue_claim_code(
                by=operator, night=night, contributor_key=NightContributor.objects.get().key
            )
            bundle, key = two_servers.export(exports.select_night(night, by=None)), signing.get_public_key()
        two_servers.trust(key)
        two_servers.take(bundle)
        me = factories.member("ann")
        assert guests.claim_guest_devices(by=me, code=code) == 2
        again = two_servers.take(bundle)
        assert (again.new, again.changed, again.conflicts) == (0, 0, 0)
        assert Contributor.objects.get().member_id == me.member_id

    def test_a_name_alone_is_nobody_until_a_person_says_so(self, settings, field_var):
        with two_servers.other_server(settings, field_var):
            device = factories.device(factories.member("ann"))
            bundle, key = two_servers.export(exports.select_member("ann")), signing.get_public_key()
        two_servers.trust(key)
        me = factories.member("ann")
        shown = two_servers.take(bundle)
        assert any("an account has this name" in line for line in shown.lines)
        assert Device.objects.get(key=device).contributor.member_id is None
        decided = two_servers.take(bundle, same={"ann": "ann"})
        assert decided.changed == 1
        assert Device.objects.get(key=device).contributor.member_id == me.member_id
        again = two_servers.take(bundle)
        assert (again.new, again.changed, again.conflicts) == (0, 0, 0)

    def test_two_who_are_one_person_there_are_one_here(self, settings, field_var):
        with two_servers.other_server(settings, field_var):
            night, *_ = two_servers.hold_night()
            head = factories.member("box-head", "steward")
            persons.confirm_guests(by=head, night=night)
            persons.join_by_name(by=head, first="Guest 0", second="Guest 1")
            bundle, key = two_servers.export(exports.select_night(night, by=None)), signing.get_public_key()
        two_servers.trust(key)
        two_servers.take(bundle)
        persons.confirm_guests(by=factories.member("head", "steward"), night=night)
        assert len(_count_persons()) == 2


@pytest.mark.parametrize("whole", [True, False])
def test_of_a_members_device_an_operator_carries_what_lay_on_the_bench(settings, field_var, whole):
    """Recipe and the night's tests; not place, notes, other tests (trade.md, 8). A command has all."""
    with two_servers.other_server(settings, field_var):
        night, guests_devices, recorded = two_servers.hold_night(people=1, devices_each=1)
        owner, operator = factories.member("ann"), factories.member("bench-op", "operator")
        device = factories.device(owner, tag="A-1")
        Device.objects.update(place="Secret mast", notes="Secret notes")
        factories.record(owner, device)
        attendance.open_device_by_label(by=operator, night=night, label=device)
        on_bench = two_servers.record(operator, device, night, seed=77)
        scope = exports.select_night(night, by=None if whole else operator)
        bundle, key = two_servers.export(scope), signing.get_public_key()
    two_servers.trust(key)
    assert two_servers.take(bundle).conflicts == 0
    assert Device.objects.get(key=device).place == ("Secret mast" if whole else "")
    assert Device.objects.get(key=guests_devices[0]).place == "Secret mast"
    assert set(Test.objects.values_list("key", flat=True)) == {on_bench, *recorded}
    assert two_servers.take(bundle).new == 0


def test_who_does_not_run_the_night_carries_nothing(settings, field_var):
    night, *_ = two_servers.hold_night(people=1, devices_each=1)
    for by in (factories.member("ann"), factories.member("other-op", "operator")):
        with pytest.raises(BenchnightError):
            exports.select_night(night, by=by)


def test_a_blank_label_that_was_bound_in_the_field_scans_at_home(settings, field_var):
    with two_servers.other_server(settings, field_var):
        owner = factories.member("ann")
        code = label_codes.make_blank_codes(by=owner, count=1)[0]
        device = factories.device(owner)
        label_codes.bind_code(by=owner, code=code, device=device)
        bundle, key = two_servers.export(exports.select_member("ann")), signing.get_public_key()
    two_servers.trust(key)
    two_servers.take(bundle)
    assert LabelCode.objects.get(code=code).device.key == device


def test_a_device_that_changed_hands_votes_for_its_first_owner(settings, field_var):
    with two_servers.other_server(settings, field_var):
        first, second = factories.member("ann"), factories.member("bob")
        device = factories.device(first)
        voter = Device.objects.get(key=device).contributor
        owner = contributors.get_or_create_contributor(second.member_id)
        Device.objects.filter(key=device).update(voter=voter, contributor=owner, design=None)
        bundle, key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(key)
    two_servers.take(bundle)
    found = Device.objects.get(key=device)
    assert (found.contributor.guest_name, found.voter.guest_name, found.design) == ("bob", "ann", None)
    assert two_servers.take(bundle).new == 0


def test_the_groups_kit_comes_to_the_group(settings, field_var):
    with two_servers.other_server(settings, field_var):
        device = factories.device(factories.member("ann"))
        Device.objects.filter(key=device).update(contributor=contributors.get_or_create_group())
        bundle, key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(key)
    two_servers.take(bundle)
    assert Device.objects.get(key=device).contributor == contributors.find_group()
