"""Loans and hand-overs go with their devices; an offer that waits for a yes stays at home."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.models import Handover, Loan
from measurements.services.bundles import exports, row_schema, signing
from measurements.services.kit import handovers, loans
from tests import factories
from tests.services.bundles import two_servers

pytestmark = pytest.mark.django_db


@pytest.fixture
def field_var(settings, tmp_path):
    settings.BENCHNIGHT_VAR = tmp_path / "home"
    return tmp_path / "field"


@pytest.fixture
def device():
    """A device that was lent twice, was handed over, and is offered again."""
    ann, ben = factories.member("ann"), factories.member("ben")
    key = factories.device(ann, tag="A-1")
    offer = handovers.offer_device(by=ann, device=key, name="ben")
    handovers.answer_offer(by=ben, offer=offer, yes=True)
    loans.lend_device(by=ben, device=key, borrower="Gwenna", lent_on=date(2026, 3, 1))
    loans.return_device(by=ben, device=key, returned_on=date(2026, 3, 9))
    loans.lend_device(by=ben, device=key, borrower="Cory", lent_on=date(2026, 4, 1))
    handovers.offer_device(by=ben, device=key, name="ann")
    return ben, key


def _list_loans():
    rows = Loan.objects.order_by("lent_on")
    return list(rows.values_list("device__key", "borrower", "lent_on", "returned_on"))


def test_they_arrive_as_they_were(settings, field_var, device):
    _, key = device
    lent, bundle, home = _list_loans(), two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home)
        two_servers.take(bundle)
        assert _list_loans() == lent != []
        (moved,) = Handover.objects.all()
        assert (moved.device.key, moved.name, moved.answer, moved.giver) == (key, "ben", "yes", None)
        again = two_servers.take(bundle)
        assert (again.new, again.changed, again.conflicts) == (0, 0, 0)


def test_a_return_in_the_field_follows_home(settings, field_var, device):
    out, home = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home)
        two_servers.take(out)
        Loan.objects.filter(returned_on=None).update(returned_on=date(2026, 5, 5))
        back, field = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(field)
    two_servers.take(back)
    assert _list_loans()[-1][-1] == date(2026, 5, 5)


def test_two_open_loans_of_one_device_do_not_meet(settings, field_var, device):
    """The field lent it again after its return there; here it is lent to somebody else meanwhile."""
    _, key = device
    out, home = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home)
        two_servers.take(out)
        Loan.objects.filter(returned_on=None).update(returned_on=date(2026, 5, 5))
        there = Loan.objects.first().device
        Loan.objects.create(device=there, borrower="Dan", lent_on=date(2026, 5, 6))
        back, field = two_servers.export(exports.select_all()), signing.get_public_key()
    Loan.objects.filter(returned_on=None).update(returned_on=date(2026, 5, 1))
    Loan.objects.create(device=Loan.objects.first().device, borrower="Eve", lent_on=date(2026, 5, 2))
    two_servers.trust(field)
    two_servers.take(back)
    open_loans = Loan.objects.filter(returned_on=None, device__key=key)
    assert [loan.borrower for loan in open_loans] == ["Eve"]
    assert Loan.objects.get(borrower="Dan").returned_on is not None


def test_a_bundle_of_the_first_version_is_read(settings, field_var, device, monkeypatch):
    """A bundle as the first version wrote it: neither table is in it."""
    with monkeypatch.context() as older:
        older.setattr(row_schema, "VERSION", 1)
        older.setattr(row_schema, "TABLES", row_schema.SCHEMAS[1])
        bundle, home = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, field_var):
        two_servers.trust(home)
        assert two_servers.take(bundle).new > 2
        assert not Loan.objects.exists() and not Handover.objects.exists()


def test_a_loan_of_a_members_device_is_not_in_an_operators_bundle(device):
    """A night's bundle of its operator holds nothing of who has somebody's device."""
    from tests import club

    by = club.operator()
    night = club.night(by)
    assert b"Cory" not in two_servers.export(exports.select_night(night, by=by))
