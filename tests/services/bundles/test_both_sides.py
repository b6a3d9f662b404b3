"""Two servers edit the same things: one side's edit follows, two edits are a person's to decide."""

import pytest

from measurements.models import Conductor, Contributor, Core, Design, Device, DevicePhoto, Inspection, Test
from measurements.services.accounts import membership
from measurements.services.bundles import exports, signing
from measurements.services.designs import designs
from measurements.services.devices import devices
from measurements.services.tests import tests
from measurements.services.upkeep import inspections, photos
from tests import factories, photo_samples
from tests.services.bundles import two_servers

pytestmark = pytest.mark.django_db


@pytest.fixture
def field_var(settings, tmp_path):
    settings.BENCHNIGHT_VAR = tmp_path / "home"
    return tmp_path / "field"


def _carry_out_and_back(settings, field_var, edit):
    """Home's device goes to the field in a bundle, `edit` changes it there, and a bundle comes back."""
    me = factories.member("ann")
    key = factories.device(me, tag="A-1")
    factories.record(me, key)
    out, home_key = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home_key)
        two_servers.take(out)
        edit(Device.objects.get(key=key))
        back, field_key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(field_key)
    return me, key, back


def _set(**values):
    return lambda device: Device.objects.filter(pk=device.pk).update(**values)


def test_an_edit_in_the_field_follows_home(settings, field_var):
    _me, key, back = _carry_out_and_back(settings, field_var, _set(place="Hut"))
    outcome = two_servers.take(back)
    assert (outcome.new, outcome.changed, outcome.conflicts) == (1, 1, 0)  # new: the field's word for ann
    assert any("place: here '', in the bundle 'Hut'" in line for line in outcome.lines)
    assert Device.objects.get(key=key).place == "Hut" and Contributor.objects.count() == 1
    again = two_servers.take(back)
    assert (again.new, again.changed, again.conflicts) == (0, 0, 0)


def test_an_edit_at_home_stays(settings, field_var):
    me, key, back = _carry_out_and_back(settings, field_var, lambda device: None)
    devices.update_device(by=me, device=key, version=1, place="Shed")
    outcome = two_servers.take(back)
    assert (outcome.changed, outcome.conflicts) == (0, 0) and Device.objects.get(key=key).place == "Shed"


def test_edits_of_different_fields_meet(settings, field_var):
    me, key, back = _carry_out_and_back(settings, field_var, _set(notes="Wet"))
    devices.update_device(by=me, device=key, version=1, place="Shed")
    assert two_servers.take(back).conflicts == 0
    found = Device.objects.get(key=key)
    assert (found.place, found.notes) == ("Shed", "Wet")


class TestConflicts:
    @pytest.fixture
    def conflict(self, settings, field_var):
        me, key, back = _carry_out_and_back(settings, field_var, _set(place="Hut", notes="Wet"))
        devices.update_device(by=me, device=key, version=1, place="Shed")
        return key, back

    def test_it_is_listed_with_both_values_until_decided(self, conflict):
        key, back = conflict
        for _time in range(2):
            outcome = two_servers.take(back)
            assert outcome.conflicts == 1
            line = next(line for line in outcome.lines if line.startswith("conflict"))
            assert key in line and "'Shed'" in line and "'Hut'" in line
            assert Device.objects.get(key=key).place == "Shed"
        # what only the field edited came along
        assert Device.objects.get(key=key).notes == "Wet"

    @pytest.mark.parametrize(("decision", "place"), [("theirs", "Hut"), ("ours", "Shed")])
    def test_a_decision_ends_it(self, conflict, decision, place):
        key, back = conflict
        assert two_servers.take(back, **{decision: frozenset({key})}).conflicts == 0
        assert Device.objects.get(key=key).place == place
        again = two_servers.take(back)
        assert (again.changed, again.conflicts) == (0, 0) and Device.objects.get(key=key).place == place

    def test_a_preview_of_a_decision_decides_nothing(self, conflict):
        key, back = conflict
        two_servers.take(back, apply=False, theirs=frozenset({key}))
        assert two_servers.take(back).conflicts == 1


def test_a_second_edit_after_the_first_came_home_is_no_conflict(settings, field_var):
    """The newest state that both had counts, not the one that went out first."""
    _me, key, back = _carry_out_and_back(settings, field_var, _set(place="Hut"))
    two_servers.take(back)
    home_again, home_key = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home_key)
        two_servers.take(home_again)
        Device.objects.filter(key=key).update(place="Cabin")
        second = two_servers.export(exports.select_all())
    outcome = two_servers.take(second)
    assert outcome.conflicts == 0 and Device.objects.get(key=key).place == "Cabin"


def test_a_test_that_was_withdrawn_at_home_does_not_come_back(settings, field_var):
    with two_servers.other_server(settings, field_var):
        _night, _devices, recorded = two_servers.hold_night(people=1)
        bundle, key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(key)
    two_servers.take(bundle)
    tests.withdraw_test(by=factories.member("head", "steward"), test=recorded[0])
    assert two_servers.take(bundle).new == 0
    assert set(Test.objects.values_list("key", flat=True)) == set(recorded[1:])


def test_who_left_does_not_come_back_in_an_old_bundle(settings, field_var):
    with two_servers.other_server(settings, field_var):
        factories.record(by := factories.member("ann"), factories.device(by))
        bundle, key = two_servers.export(exports.select_member("ann")), signing.get_public_key()
    two_servers.trust(key)
    me = factories.member("ann-here")
    two_servers.take(bundle, same={"ann": "ann-here"})
    membership.delete_account(by=me, name="ann-here", password="")
    outcome = two_servers.take(bundle)
    assert (outcome.new, outcome.conflicts) == (0, 0)
    assert not Device.objects.exists() and not Contributor.objects.exists()


def test_a_member_moves_with_everything(settings, field_var):
    """Tests, inspections and pictures; the commissioning test; the same label."""
    with two_servers.other_server(settings, field_var):
        me = factories.member("ann")
        device = factories.device(me, tag="A-1")
        recorded = factories.record(me, device)
        devices.update_device(by=me, device=device, version=1, place="Mast", baseline=recorded)
        inspections.record_inspection(
            by=me,
            device=device,
            inspected_on=factories.date(2026, 4, 1),
            findings={"core": {"state": "ok"}},
            notes="Dry",
        )
        photos.add_photo(by=me, device=device, data=photo_samples.picture(), caption="Lid off")
        bundle, key = two_servers.export(exports.select_member("ann")), signing.get_public_key()
    two_servers.trust(key)
    outcome = two_servers.take(bundle, same={"ann": factories.member("anna").name})
    assert outcome.conflicts == 0
    found = Device.objects.get()
    assert (found.key, found.tag, found.place) == (device, "A-1", "Mast")
    assert found.baseline.key == recorded and found.contributor.member.name == "anna"
    assert Inspection.objects.get().notes == "Dry" and found.photos.get().caption == "Lid off"
    assert two_servers.take(bundle).counts["unchanged"] > 0
    assert two_servers.take(bundle).changed == 0


class TestRecipes:
    def test_equal_builds_meet(self, settings, field_var):
        with two_servers.other_server(settings, field_var):
            theirs = factories.device(factories.member("ann"))
            bundle, key = two_servers.export(exports.select_all()), signing.get_public_key()
        two_servers.trust(key)
        design = factories.design(factories.member("bob"))
        two_servers.take(bundle)
        assert Device.objects.get(key=theirs).design.key == design and Design.objects.count() == 1

    def test_an_unknown_core_travels_and_none_is_overwritten(self, settings, field_var):
        ours = Core.objects.exclude(outer_mm=None).filter(shape="toroid").first()
        with two_servers.other_server(settings, field_var):
            unknown = _list_core(ours, part="OWN-1", outer_mm=33.0)
            Core.objects.filter(pk=ours.pk).update(outer_mm=ours.outer_mm + 1)
            Conductor.objects.create(
                name="Own wire", outer_mm=2.0, source="invented", basis="measured", as_of="2026-01-01"
            )
            me = factories.member("ann")
            for number, part in enumerate((unknown.part, ours.part)):
                recipe = {
                    **factories.RECIPE,
                    "cores": [{"part": part}],
                    "winding": {**factories.RECIPE["winding"], "conductor": "Own wire"},
                }
                factories.device(
                    me, designs.register_design(by=me, recipe_given=recipe).key, tag=f"T{number}"
                )
            bundle, key = two_servers.export(exports.select_all()), signing.get_public_key()
        two_servers.trust(key)
        outcome = two_servers.take(bundle)
        assert Core.objects.get(part="OWN-1").outer_mm == 33.0
        assert Core.objects.get(part=ours.part).outer_mm == ours.outer_mm
        assert Conductor.objects.filter(name="Own wire").exists()
        assert any(f"core {ours.part}: this group's own row stays" in line for line in outcome.lines)
        assert Device.objects.count() == 2 and two_servers.take(bundle).new == 0


def _list_core(like, **changes):
    values = {
        field.name: getattr(like, field.name) for field in Core._meta.concrete_fields if field.name != "id"
    }
    return Core.objects.create(**{**values, **changes})


def test_a_tag_that_its_owner_has_already(settings, field_var):
    with two_servers.other_server(settings, field_var):
        theirs = factories.device(factories.member("ann"), tag="A-1")
        bundle, key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(key)
    factories.device(factories.member("ann"), tag="A-1")
    outcome = two_servers.take(bundle, same={"ann": "ann"})
    assert outcome.conflicts == 1 and Device.objects.get(key=theirs).tag == f"A-1-{theirs[:4]}"
    again = two_servers.take(bundle)
    assert (again.new, again.changed, again.conflicts) == (0, 0, 0)


def test_a_caption_from_the_field_follows_home(settings, field_var):
    """A row that names no person changes as plainly as one that does."""
    me = factories.member("ann")
    key = factories.device(me, tag="A-1")
    photos.add_photo(by=me, device=key, data=photo_samples.picture(), caption="the lid")
    out, home_key = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home_key)
        two_servers.take(out)
        DevicePhoto.objects.update(caption="the lid, wet")
        back, field_key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(field_key)
    assert two_servers.take(back).conflicts == 0
    assert DevicePhoto.objects.get().caption == "the lid, wet"
