"""What keeps a device in service beside its tests: inspections, photos, fault finding, the calendar feed."""

from django.db import models
from django.utils.crypto import salted_hmac

from measurements.models.accounts import Member
from measurements.models.designs import Design, Device
from measurements.models.keys import new_key
from measurements.models.nights import Night
from measurements.models.tests import Test


class Inspection(models.Model):
    """A look at a device. findings: item of the check list -> {"state", "note"}.

    content_sha256 finds the same form sent twice over a bad connection.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="inspections")
    inspected_on = models.DateField()
    recorded_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    night = models.ForeignKey(Night, null=True, on_delete=models.SET_NULL, related_name="inspections")
    findings = models.JSONField(default=dict)
    dc_ohm = models.FloatField(null=True)
    notes = models.TextField(blank=True)
    content_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["device", "content_sha256"], name="inspection_once_per_device")
        ]
        indexes = [models.Index(fields=["device", "-inspected_on"], name="inspection_newest_of_device")]


class DueMark(models.Model):
    """A mark after an event: from then on the device is due, until what the event asks for was done since.

    event: a code of `fitness.due_events`. since: the day of the event. batch: the same for all that were
    marked in one action, so that it can be undone. The row stays once it is clear: it dates every answer
    before it.
    """

    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="due_marks")
    event = models.CharField(max_length=16)
    since = models.DateField()
    reason = models.CharField(max_length=120, blank=True)
    marked_at = models.DateTimeField()
    marked_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    batch = models.CharField(max_length=12, db_index=True)


class DevicePhoto(models.Model):
    """A picture of a device, drawn anew on arrival so that only its pixels stay."""

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="photos")
    caption = models.CharField(max_length=200, blank=True)
    media_type = models.CharField(max_length=16)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    content = models.BinaryField()
    small = models.BinaryField()
    raw_sha256 = models.CharField(max_length=64)
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["device", "raw_sha256"], name="photo_once_per_device")]


class FaultSearch(models.Model):
    """A guided path from a symptom to a finding. answers: step -> what was found there."""

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="fault_searches")
    begun_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    begun_at = models.DateTimeField(auto_now_add=True)
    symptom = models.CharField(max_length=32)
    answers = models.JSONField(default=dict)
    finding = models.CharField(max_length=32, blank=True)
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)


class FaultStep(models.Model):
    """A test that was made on the way of a fault search."""

    search = models.ForeignKey(FaultSearch, on_delete=models.CASCADE, related_name="steps")
    step = models.CharField(max_length=32)
    test = models.ForeignKey(Test, on_delete=models.CASCADE, related_name="+")
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["search", "step", "test"], name="fault_step_once")]


class WatchedDesign(models.Model):
    """A design whose changes of verdict go into its member's feed, from the release after `since` on."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="watched")
    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="+")
    since = models.PositiveIntegerField(default=0)
    watched_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["member", "design"], name="watched_once")]


class CalendarFeed(models.Model):
    """A revocable address of the due list of a member or the group; the row holds only its secret's hash."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="feeds")
    secret_sha256 = models.CharField(max_length=64, unique=True)
    of_group = models.BooleanField(default=False, db_default=False)
    label = models.CharField(max_length=64, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
    last_used_on = models.DateField(null=True)

    @property
    def name(self) -> str:
        """Build the public key of the row: a keyed hash, because row numbers count and hashes stay
        here.
        """
        return salted_hmac("measurements.feed", str(self.pk), algorithm="sha256").hexdigest()[:16]
