"""Results of an older engine are computed again together, by one process or by workers, and none is lost."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.models import Result, Test
from measurements.rf.analysis import ENGINE_VERSION
from measurements.services.tests import recomputation, results, tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def stored() -> list[str]:
    """Tests of three people; the last two brought one and the same sweep."""
    keys = []
    for person, seed in enumerate((1, 2, 2)):
        owner = factories.member(f"person-{person}")
        keys.append(factories.record(owner, factories.device(owner), factories.choke_s2p(seed=seed)))
    return keys


def become_old() -> dict[str, dict]:
    """What every test's figures are, which from now on are of an older engine."""
    Result.objects.update(engine_version="0.0.1")
    return figures()


def figures() -> dict[str, dict]:
    return dict(Result.objects.filter(current=True).values_list("test__key", "figures"))


def flags(key: str) -> set[str]:
    return {flag["code"] for flag in figures()[key]["flags"]}


def test_the_same_engine_finds_the_same_figures_and_keeps_the_old_rows(stored):
    before = become_old()
    assert recomputation.recompute_stale_tests() == 3
    assert figures() == before
    assert set(Result.objects.filter(current=True).values_list("engine_version", flat=True)) == {
        ENGINE_VERSION
    }
    assert Result.objects.filter(engine_version="0.0.1", current=False).count() == 3
    assert recomputation.recompute_stale_tests() == 0


def test_the_later_of_two_that_brought_one_sweep_is_kept_out_quietly(stored):
    """The second is another person's: no flag says that somebody stored this file before."""
    become_old()
    Test.objects.update(shares_bytes=False)
    recomputation.recompute_stale_tests()
    assert [("same_sweep" in flags(key)) for key in stored] == [False, False, False]
    assert [Test.objects.get(key=key).shares_bytes for key in stored] == [False, False, True]


def test_only_the_later_of_an_own_two_is_flagged(stored):
    owner = factories.member("person-0")
    own = factories.record(owner, factories.device(owner, tag="C-2"), factories.choke_s2p(seed=1))
    become_old()
    recomputation.recompute_stale_tests()
    assert [("same_sweep" in flags(key)) for key in (stored[0], own)] == [False, True]
    assert not Test.objects.get(key=own).shares_bytes


def test_many_ask_as_often_as_few(stored):
    def asked() -> int:
        become_old()
        with CaptureQueriesContext(connection) as queries:
            assert recomputation.recompute_stale_tests() == Result.objects.filter(current=True).count()
        Result.objects.filter(current=False).delete()
        return len(queries)

    asked()  # statements that are prepared are made the first time
    few = asked()
    owner = factories.member("person-3")
    device = factories.device(owner)
    for seed in range(10, 20):
        factories.record(owner, device, factories.choke_s2p(seed=seed))
    assert asked() == few


def test_workers_take_it_in_portions(stored):
    before = become_old()
    assert (
        recomputation.list_stale_spans(2)[0][0]
        < recomputation.list_stale_spans(2)[0][1]
        < recomputation.list_stale_spans(2)[1][0]
    )
    assert recomputation.enqueue_recomputation(portion=2) == 2
    assert figures() == before and recomputation.list_stale_spans(2) == []


def test_what_another_run_computed_meanwhile_stops_nothing(stored, monkeypatch):
    become_old()
    together = results.add_results

    def meanwhile(computed):
        results.add_result(*computed[1])  # a second worker was quicker with one of them
        together(computed)

    monkeypatch.setattr(results, "add_results", meanwhile)
    # the transaction of the chunk takes the second worker's row back with it, as it is one here
    assert recomputation.recompute_stale_tests() == 3
    assert Result.objects.filter(engine_version=ENGINE_VERSION, current=True).count() == 3


@pytest.mark.django_db(transaction=True)
def test_a_test_that_is_withdrawn_meanwhile_stops_nothing(stored, monkeypatch):
    become_old()
    analysed = recomputation._analyse_requests

    def meanwhile(requests, pool):
        tests.withdraw_test(by=factories.member("person-0"), test=stored[0])
        return analysed(requests, pool)

    monkeypatch.setattr(recomputation, "_analyse_requests", meanwhile)
    assert (
        recomputation.recompute_stale_tests() == 2
    )  # that a row is missing shows where the transaction ends
    assert figures().keys() == set(stored[1:])


def test_the_command_hands_it_to_workers_where_there_are_any(stored, capsys):
    become_old()
    if connection.vendor == "sqlite":
        with pytest.raises(CommandError, match="without --queue"):
            call_command("recompute", "--queue")
        return
    call_command("recompute", "--queue")
    assert capsys.readouterr().out == "1 portions handed to the workers\n"
    assert recomputation.recompute_stale_tests() == 0


def test_a_stored_test_is_held_against_its_recipe_when_it_is_computed_anew():
    """Tests of before the check existed have no doubt stored; what an owner confirmed stays confirmed."""
    ada = factories.member("Ada")
    wrong = factories.device(ada, factories.design(ada, mix="61", turns=3), tag="W-1")
    waiting = factories.record(ada, wrong, factories.wound_s2p(), recipe_confirmed="false")
    confirmed = factories.record(ada, wrong, factories.wound_s2p(turns=9))
    Test.objects.update(recipe_doubt=None)
    Result.objects.update(engine_version="0.0.1", counts_as_evidence=True)
    assert recomputation.recompute_stale_tests() == 2
    assert Test.objects.get(key=waiting).recipe_doubt["contradicts"]
    assert not Result.objects.get(test__key=waiting, current=True).counts_as_evidence
    assert Result.objects.get(test__key=confirmed, current=True).counts_as_evidence
