"""A night off the grid comes home in a bundle: nothing lost, nothing twice, nobody counted twice."""

import pytest

from measurements.models import Contributor, Device, Night, NightContributor, Result, SweepFile, Test
from measurements.services.bundles import exports, signing
from measurements.services.devices import contributors
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
