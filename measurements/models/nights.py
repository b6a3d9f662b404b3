"""Club nights: a dated bench session, its jig, its operators, and the guests it knows by name."""

from datetime import timedelta

from django.db import models
from django.utils import timezone

from measurements.models.accounts import Contributor, Member
from measurements.models.analysers import DescribedAnalyser
from measurements.models.designs import Device
from measurements.models.keys import new_key
from measurements.models.read_once import read_once


class Night(models.Model):
    """One bench session. `version` makes its strong ETag.

    resistors: what the set of load resistors is and bears, as the operator wrote it.
    calibrated: whether the analyser was calibrated at the jig's clips; None where nobody said.
    analyser: the described instrument of an operator that the night's tests were swept with.
    jig_figures: what the jig was found to be good for, empty until it was measured.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    held_on = models.DateField()
    title = models.CharField(max_length=120, blank=True)
    instrument = models.CharField(max_length=120, blank=True)
    analyser = models.ForeignKey(
        DescribedAnalyser, null=True, on_delete=models.SET_NULL, related_name="nights"
    )
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
        """Return accounts of the operators of one night; empty outside nights."""
        if night_id is None:
            return frozenset()
        return _list_night_operators(night_id)

    def of_device(self, device_id: int) -> frozenset[int]:
        """Return accounts of the operators of every night on whose bench a device is now."""
        return _list_device_operators(device_id)

    def of_bench(self, night_id: int | None, device_id: int) -> frozenset[int]:
        """Return accounts of the operators of one night, while a device is on its bench; else empty."""
        if night_id is None:
            return frozenset()
        return _list_bench_operators(night_id, device_id)


@read_once
def _list_night_operators(night_id: int) -> frozenset[int]:
    return frozenset(NightOperator.objects.filter(night=night_id).values_list("member_id", flat=True))


@read_once
def _list_device_operators(device_id: int) -> frozenset[int]:
    there = NightDevice.objects.live().filter(device=device_id).values("night")
    return frozenset(NightOperator.objects.filter(night__in=there).values_list("member_id", flat=True))


@read_once
def _list_bench_operators(night_id: int, device_id: int) -> frozenset[int]:
    there = NightDevice.objects.live().filter(device=device_id, night=night_id).values("night")
    return frozenset(NightOperator.objects.filter(night__in=there).values_list("member_id", flat=True))


class NightOperator(models.Model):
    """Who runs a night; all of them see it, its guests and its tests."""

    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="staff")
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="runs")

    objects = NightOperatorQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["night", "member"], name="night_operator_once")]


class NightContributor(models.Model):
    """Who brought devices to a night, under the name that an operator wrote.

    A name that was written is a guest's until its bearer claims it with the card's code, or says yes to a
    request: it never tells whether it has an account.

    `key` names this person to the night's operators: the private ledger has the contributor's own key
    and never leaves the server.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="attendance")
    contributor = models.ForeignKey(Contributor, on_delete=models.CASCADE, related_name="attended")
    name = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["night", "contributor"], name="night_contributor_once")
        ]


# A member's device is open to a night's operators for so long at most, in case nobody closes the night.
ACCESS_LASTS = timedelta(hours=36)


class NightDeviceQuerySet(models.QuerySet["NightDevice"]):
    """Look-ups of what is open to operators now: reads and writes ask the same question."""

    def live(self) -> "NightDeviceQuerySet":
        """Return devices on the bench now: no access that its owner, the closed night or time has ended."""
        guests = models.Q(device__contributor__member=None, device__contributor__is_group=False)
        recent = models.Q(brought_at__gte=timezone.now() - ACCESS_LASTS)
        return self.filter(guests | recent, ended_at=None)


class NightDevice(models.Model):
    """An access: a device on a night's bench, from `brought_at` until `ended_at`; several may follow.

    The night's operators test it meanwhile. They see its design and the tests that they make there, and
    nothing else of it. Ended ones stay, so that the owner sees who had access when.
    opened_how: by its key, by the owner's yes, or because an operator registered it for a guest.
    """

    class How(models.TextChoices):
        REGISTERED = "registered"
        LABEL = "label"
        OWNER = "owner"

    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="brought")
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="nights")
    brought_at = models.DateTimeField(auto_now_add=True)
    opened_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    opened_how = models.CharField(max_length=10, choices=How, default=How.REGISTERED)
    ended_at = models.DateTimeField(null=True)
    ended_by_owner = models.BooleanField(default=False)

    objects = NightDeviceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["night", "device"], condition=models.Q(ended_at=None), name="night_device_open_once"
            )
        ]


class BenchRequest(models.Model):
    """An operator asks an owner for a device by name and tag; the owner says yes or no.

    The row stays whether or not there is such an owner or device, so that it tells the operator nothing.
    device: the one that was meant, where there is one. answer: "", "yes" or "no".
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    night = models.ForeignKey(Night, on_delete=models.CASCADE, related_name="requests")
    name = models.CharField(max_length=64)
    tag = models.CharField(max_length=64)
    device = models.ForeignKey(Device, null=True, on_delete=models.SET_NULL, related_name="requests")
    asked_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    answer = models.CharField(max_length=3, blank=True, default="")
    answered_at = models.DateTimeField(null=True)


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
    """The code on a guest's card, by which a later account claims the devices; the row holds its hash."""

    contributor = models.ForeignKey(Contributor, on_delete=models.CASCADE, related_name="claim_codes")
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    used_at = models.DateTimeField(null=True)
