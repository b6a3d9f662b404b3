"""Blank labels: codes printed in advance, each bound to one device, once, when the label is put on it."""

from __future__ import annotations

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Device, LabelCode
from measurements.services.operations import audit

MOST_AT_ONCE = 200
MOST_FREE = 1000  # of one account: codes that wait for a device


def make_blank_codes(*, by: Viewer, count: int) -> list[str]:
    """Make codes for blank labels and return them. They open nothing until they are bound.

    Raises BenchnightError `label.count`, `label.too_many`.
    """
    policy.check_signed_in(by)
    if not 1 <= count <= MOST_AT_ONCE:
        raise BenchnightError("label.count", f"Print 1 to {MOST_AT_ONCE} labels at a time.", field="count")
    with transaction.atomic():
        if LabelCode.objects.filter(made_by=by.member_id, device=None).count() + count > MOST_FREE:
            raise BenchnightError(
                "label.too_many",
                f"{MOST_FREE} blank labels of yours wait for a device. Use those first.",
                kind="too_many",
                field="count",
            )
        rows = LabelCode.objects.bulk_create(LabelCode(made_by_id=by.member_id) for _ in range(count))
        audit.record_action(by=by, action="label.print_blank", subject=by.name, labels=count)
    return [row.code for row in rows]


def bind_code(*, by: Viewer, code: str, device: str) -> None:
    """Bind a blank label to a device of `by`; it leads there for good.

    Raises BenchnightError `device.not_found`, `label.not_found`, `label.taken`.
    """
    policy.check_signed_in(by)
    found = Device.objects.select_related("contributor").filter(key=device).first()
    if found is None:
        raise policy.build_not_found("device")
    owner = found.contributor
    policy.check_alter_device(by, policy.Ownership(owner.member_id, of_group=owner.is_group))
    with transaction.atomic():
        bind_code_to_device(by, code, found)


def bind_code_to_device(by: Viewer, code: str, device: Device) -> None:
    """Bind for who has checked that `by` may. Call inside a transaction. Raises as `bind_code`."""
    # the conditional UPDATE decides between two who scan one label
    bound = _find_free(code).update(device=device, bound_at=timezone.now())
    if not bound:
        raise _build_refusal(code)
    audit.record_action(by=by, action="label.bind", subject=device.key, code=code)


def bind_blank_tag(by: Viewer, tag: str, device: Device) -> None:
    """Bind a new device to the blank label whose code its tag is; do nothing for any other tag.

    Call inside the transaction that registers it.
    """
    code = tag.strip().rstrip("/").rpartition("/")[2].lower()
    if _find_free(code).exists():
        bind_code_to_device(by, code, device)


def _find_free(code: str) -> QuerySet[LabelCode]:
    return LabelCode.objects.filter(code=code, device=None)


def _build_refusal(code: str) -> BenchnightError:
    if LabelCode.objects.filter(code=code).exists() or Device.objects.filter(key=code).exists():
        return BenchnightError(
            "label.taken", "This label belongs to a device already. Take another one.", kind="conflict"
        )
    return BenchnightError(
        "label.not_found",
        "No label of this group has this code. Print blank labels first.",
        kind="not_found",
        field="code",
    )
