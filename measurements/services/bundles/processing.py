"""Bundles that came over the network: stored first, then a worker shows or applies each, once.

A worker holds a lease. The import is one transaction that ends with the row of the bundle: a worker that was
taken over rolls back, so nothing is applied twice, and a killed one leaves nothing.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Mapping
from datetime import timedelta
from functools import partial
from typing import Any

from django.db import OperationalError, transaction
from django.db.models import Q
from django.utils import timezone
from django_tasks import task

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import BundleImport
from measurements.services.bundles import bags, imports
from measurements.services.bundles.import_run import Decisions, Outcome
from measurements.services.intakes import leases
from measurements.services.operations import audit

logger = logging.getLogger(__name__)

LEASE_DURATION = timedelta(seconds=120)  # renewed before each test; storing thousands takes less
NEVER_TAKEN_UP = timedelta(seconds=60)
MOST_WAITING = 20  # of one account
FAILED = "Something went wrong on the server; it was logged. Nothing of this bundle was taken."
QUEUED, RUNNING, DONE = BundleImport.State.QUEUED, BundleImport.State.RUNNING, BundleImport.State.DONE


def begin_import(*, by: Viewer, data: bytes, apply: bool, decisions: Mapping[str, Any] | None = None) -> str:
    """Store a bundle and have a worker show or apply it; answers the key of the import.

    by: an operator or a steward. Raises BenchnightError `account.operators_only`, and `bundle.*` for what is
    no bundle of a trusted server: that is looked at before anything is stored.
    """
    policy.check_operator(by)
    with bags.open_bag(io.BytesIO(data)):
        pass
    if BundleImport.objects.filter(made_by=by.member_id).exclude(state=DONE).count() >= MOST_WAITING:
        raise BenchnightError(
            "bundle.too_many", f"{MOST_WAITING} bundles of yours wait already.", kind="too_many"
        )
    with transaction.atomic():
        _drop_previews(by.member_id)
        row = BundleImport.objects.create(
            made_by_id=by.member_id, apply=apply, decisions=dict(decisions or {}), raw=data
        )
        audit.record_action(by=by, action="bundle.send", subject=row.key, apply=apply, bytes=len(data))
        transaction.on_commit(partial(process_in_background.enqueue, row.key))
    return row.key


def apply_preview(*, by: Viewer, key: str, decisions: Mapping[str, Any] | None = None) -> str:
    """Apply a bundle that was shown, as a person decided; answers the key of the new import.

    Raises BenchnightError `bundle.not_found`, `bundle.not_shown` where its bytes are gone or it was refused.
    """
    policy.check_operator(by)
    with transaction.atomic():
        shown = BundleImport.objects.select_for_update().filter(key=key, made_by=by.member_id).first()
        if shown is None:
            raise BenchnightError("bundle.not_found", "There is no such import of yours.", kind="not_found")
        if shown.apply or shown.state != DONE or not shown.raw:
            raise BenchnightError(
                "bundle.not_shown",
                "This bundle is not here any more, or is not shown yet. Send it again.",
                kind="conflict",
            )
        row = BundleImport.objects.create(
            made_by_id=by.member_id, apply=True, decisions=dict(decisions or {}), raw=shown.raw
        )
        BundleImport.objects.filter(pk=shown.pk).update(raw=b"")
        audit.record_action(
            by=by, action="bundle.send", subject=row.key, apply=True, bytes=len(bytes(shown.raw))
        )
        transaction.on_commit(partial(process_in_background.enqueue, row.key))
    return row.key


def _drop_previews(member_id: int | None) -> None:
    """Empty the bytes of what an account was shown before: it shows another bundle now."""
    shown = BundleImport.objects.filter(apply=False, state=DONE, made_by=member_id)
    shown.exclude(raw=b"").update(raw=b"")


def process_import(key: str) -> None:
    """Show or apply one bundle; nothing where another worker does, or did."""
    worker, now = leases.generate_worker_name(), timezone.now()
    taken = BundleImport.objects.filter(_build_lapsed_filter(), key=key).exclude(state=DONE)
    if not taken.update(worker=worker, alive_until=now + LEASE_DURATION, state=RUNNING):
        return
    row = BundleImport.objects.select_related("made_by").get(key=key)
    try:
        _import(row, worker)
    except leases.LeaseLostError:
        logger.info("An import of a bundle was taken over by another worker")
    except BenchnightError as error:
        _finish(row, worker, refusal=error.errors[0].detail)
    except OperationalError:
        _release(row, worker)  # the database is away or busy: the next worker does it
        raise
    except Exception:
        # a defect of ours must not be tried again for ever
        logger.exception("An import of a bundle failed in a way that nobody foresaw")
        _finish(row, worker, refusal=FAILED)
    except BaseException:
        _release(row, worker)
        raise


def _import(row: BundleImport, worker: str) -> None:
    account = row.made_by
    if account is None or not account.is_active:
        raise BenchnightError("bundle.nobody", "The account that sent this bundle is gone or suspended.")
    by = Viewer(member_id=account.pk, name=account.name, role=account.role)
    policy.check_operator(by)
    given = row.decisions
    outcome = imports.import_bundle(
        io.BytesIO(bytes(row.raw)),
        apply=row.apply,
        decisions=Decisions(
            dict(given.get("same", {})),
            frozenset(given.get("theirs", ())),
            frozenset(given.get("ours", ())),
        ),
        by=by,
        step=lambda: _renew(row, worker),
        finish=lambda outcome: _finish(row, worker, outcome=outcome),
    )
    if not row.apply:
        _finish(row, worker, outcome=outcome)


def _renew(row: BundleImport, worker: str) -> None:
    held = BundleImport.objects.filter(pk=row.pk, worker=worker).update(
        alive_until=timezone.now() + LEASE_DURATION
    )
    if not held:
        raise leases.LeaseLostError


def _finish(row: BundleImport, worker: str, *, outcome: Outcome | None = None, refusal: str = "") -> None:
    """End the work of this worker, or raise LeaseLostError: inside the import it rolls everything back."""
    shown: dict[str, Any] = {}
    if outcome is not None:
        listed = {name: getattr(outcome, name) for name in ("lines", "clashes", "unlisted")}
        shown = {**outcome.counts, **listed}
    kept = {} if shown and not row.apply else {"raw": b""}
    held = BundleImport.objects.filter(pk=row.pk, worker=worker).update(
        state=DONE,
        finished_at=timezone.now(),
        alive_until=None,
        worker="",
        outcome=shown,
        refusal=refusal,
        **kept,
    )
    if not held:
        raise leases.LeaseLostError


def _release(row: BundleImport, worker: str) -> None:
    BundleImport.objects.filter(pk=row.pk, worker=worker).update(state=QUEUED, alive_until=None, worker="")


def _build_lapsed_filter() -> Q:
    now = timezone.now()
    ahead = Q(alive_until__gt=now + 2 * LEASE_DURATION)  # left by a clock that was set back
    return Q(alive_until=None) | Q(alive_until__lt=now) | ahead


def resume_stale_imports(*, here: bool = False) -> int:
    """Hand bundles whose worker died, or that nobody took up, to a new one; answers how many.

    here: works on them in this process.
    """
    dead = Q(state=RUNNING) & _build_lapsed_filter()
    forgotten = Q(state=QUEUED, made_at__lt=timezone.now() - NEVER_TAKEN_UP)
    keys = list(BundleImport.objects.filter(dead | forgotten).order_by("pk").values_list("key", flat=True))
    for key in keys:
        if here:
            process_import(key)
        else:
            process_in_background.enqueue(key)
    return len(keys)


def has_unfinished_imports() -> bool:
    """Say whether any bundle still waits for a worker, or has one."""
    return BundleImport.objects.exclude(state=DONE).exists()


@task()
def process_in_background(key: str) -> None:
    """Work on one bundle; harmless where another worker does already, or it is done."""
    process_import(key)
