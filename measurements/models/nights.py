"""Club nights: a dated bench session, its jig, its operators, and the guests it knows by name."""

from django.db import models

from measurements.models.accounts import Contributor, Member
from measurements.models.designs import Device
from measurements.models.keys import new_key


class Night(models.Model):
    """One bench session. `version` makes its strong ETag.

    resistors: what the set of load resistors is and bears, as the operator wrote it.
    calibrated: whether the analyser was calibrated at the jig's clips; None where nobody said.
    jig_figures: what the jig was found to be good for, empty until it was measured.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    held_on = models.DateField()
    title = models.CharField(max_length=120, blank=True)
    instrument = models.CharField(max_length=120, blank=True)
    jig = models.CharField(max_length=200, blank=True)
    calibrated = models.BooleanField(null=True)
    calibration = models.CharField(max_length=200, blank=True)
    resistors = models.CharField(max_length=200, blank=True)
    notes = models.TextField(blank=True)
    opened_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(null=True)
    jig_figures = models.JSONField(default=dict)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        indexes = [models.Index(fields=["-held_on", "-id"], name="night_newest")]


class NightOperatorQuerySet(models.QuerySet["NightOperator"]):
    """Look-ups of who ran what: reads and writes ask the same question before they let an operator in."""

    def of_night(self, night_id: int | None) -> frozenset[int]:
        """Accounts of the operators of one night; empty outside nights."""
        if night_id is None:
            return frozenset()
        return frozenset(self.filter(night=night_id).values_list("member_id", flat=True))

    def of_device(self, device_id: int) -> frozenset[int]:
        """Accounts of the operators of every night that a device was brought to."""
        return frozenset(self.filter(night__brought__device=device_id).values_list("member_id", flat=True))


class NightOperator(models.Model):
    """Who runs a night; all of them see it, its guests and its tests."""

    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="staff")
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="runs")

    objects = NightOperatorQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["night", "member"], name="night_operator_once")]


class NightContributor(models.Model):
    """Who brought devices to a night: members, and guests who are known by name there only.

    `key` names this person to the night's operators: a contributor's own key stands in the private ledger
    and never leaves the server.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="attendance")
    contributor = models.ForeignKey(Contributor, on_delete=models.CASCADE, related_name="attended")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["night", "contributor"], name="night_contributor_once")
        ]


class NightDevice(models.Model):
    """A device that was brought to a night: its operators see it and work on it from then on.

    Never all that its owner has: of a member's other devices a night's operators know nothing.
    """

    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="brought")
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="nights")
    brought_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["night", "device"], name="night_device_once")]


class NightJigFile(models.Model):
    """A jig sweep of the night, exactly as it came; role is jig_through, jig_open or jig_short."""

    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="jig_files")
    role = models.CharField(max_length=16)
    name = models.CharField(max_length=255)
    raw = models.BinaryField()
    raw_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["night", "role"], name="night_jig_role_once")]


class ClaimCode(models.Model):
    """What a guest's card carries so that a later account can claim the devices; only its hash is kept."""

    contributor = models.ForeignKey(Contributor, on_delete=models.CASCADE, related_name="claim_codes")
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    used_at = models.DateTimeField(null=True)
