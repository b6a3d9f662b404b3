"""Kit in many hands: handing over, loans, changes of many devices at once, and codes printed in advance."""

from __future__ import annotations

from django.db import models

from measurements.models.accounts import Contributor, Member
from measurements.models.designs import Device
from measurements.models.keys import new_key


class Handover(models.Model):
    """An owner offers a device to the group or to a person, who says yes or no.

    The row exists whether or not there is an account of the name, so that it tells the giver nothing.
    receiver: who was meant, where there is one. answer: "", "yes", "no", or "back" where the giver took it
    back or the device changed hands otherwise.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="handovers")
    giver = models.ForeignKey(Contributor, null=True, on_delete=models.SET_NULL, related_name="+")
    to_group = models.BooleanField(default=False)
    name = models.CharField(max_length=64, blank=True)
    receiver = models.ForeignKey(Member, null=True, on_delete=models.CASCADE, related_name="+")
    offered_at = models.DateTimeField(auto_now_add=True)
    answer = models.CharField(max_length=4, blank=True, default="")
    answered_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["device"], condition=models.Q(answer=""), name="handover_open_once"
            )
        ]


class Loan(models.Model):
    """Who has a device for a while, as its keeper wrote the name, since when and until when."""

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="loans")
    borrower = models.CharField(max_length=64)
    lent_on = models.DateField()
    returned_on = models.DateField(null=True)
    lent_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["device"], condition=models.Q(returned_on=None), name="loan_open_once"
            )
        ]


class KitChange(models.Model):
    """A change of many devices in one step, which can be undone once."""

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    made_by = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="kit_changes")
    made_at = models.DateTimeField(auto_now_add=True, db_index=True)
    undone_at = models.DateTimeField(null=True)


class KitChangeRow(models.Model):
    """Effect of a change on one device. before, after: field -> value; a new device has no `before`.

    marked: the change marked it as due, see the mark whose batch is the change's key.
    """

    change = models.ForeignKey(KitChange, on_delete=models.CASCADE, related_name="rows")
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="+")
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    marked = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["change", "device"], name="kit_change_device_once")]


class LabelCode(models.Model):
    """A code printed on a blank label. It opens nothing until it is bound to a device, once and for good."""

    code = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, null=True, on_delete=models.CASCADE, related_name="codes")
    made_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    bound_at = models.DateTimeField(null=True)
