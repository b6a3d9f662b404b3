"""Files that a member has shown to the upload page but not yet saved as a test."""

from __future__ import annotations

from django.db import models

from measurements.models.accounts import Member
from measurements.models.designs import Device
from measurements.models.keys import new_key
from measurements.models.nights import Night


class StagedUpload(models.Model):
    """One file kept for a day between looking at the checked result and saving it.

    member: None while nobody has claimed it; then `claim_sha256` is the hash of the address that does.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    member = models.ForeignKey(Member, null=True, on_delete=models.CASCADE, related_name="staged")
    claim_sha256 = models.CharField(max_length=64, blank=True, db_default="", default="")
    role = models.CharField(max_length=16)
    name = models.CharField(max_length=255)
    raw = models.BinaryField()
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField(db_index=True)


# Tests: the sweeps exactly as they came, the arrays read from them, and the figures computed.
#
# Where a constraint begins with the same column, a foreign key has no index of its own: every index is
# written
# with every test.


class Test(models.Model):
    """One sweep, or a set that belongs together, made of one device with one wiring.

    `content_sha256` covers device, kind, settings and the bytes of every file: a repeated upload finds
    the first one instead of making a second.

    excluded_reason: why a steward left it out of evidence; its owner reads it. reviewed_at: a steward has
    looked at what was flagged. recipe_doubt: what its curve says against its recipe, see
    `services.tests.recipe_doubts`; recipe_confirmed_at: when its owner answered for the recipe.
    shares_bytes: an older test of another contributor holds the same file; it has no vote, and only stewards
    read why. is_private: its owner keeps it out of what is published; it counts for the device's state alone.
    """

    __test__ = False  # pytest would take the trade's word for one of its own

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="tests", db_index=False)
    recorded_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="recorded")
    kind = models.CharField(max_length=16)
    settings = models.JSONField()
    measured_on = models.DateField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    content_sha256 = models.CharField(max_length=64)
    night = models.ForeignKey(Night, null=True, on_delete=models.SET_NULL, related_name="tests")
    excluded_reason = models.TextField(blank=True)
    excluded_at = models.DateTimeField(null=True)
    reviewed_at = models.DateTimeField(null=True)
    recipe_doubt = models.JSONField(null=True)
    recipe_confirmed_at = models.DateTimeField(null=True)
    shares_bytes = models.BooleanField(default=False, db_default=False)
    is_private = models.BooleanField(default=False, db_default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["device", "content_sha256"], name="test_once_per_device")
        ]
        indexes = [models.Index(fields=["device", "kind", "-measured_on"], name="test_newest_of_device")]


class TestMove(models.Model):
    """Tests that went to another device in one step, so that the step can be undone.

    tests: [test, device before, device after]; devices: [device, contributor before, after]; all as keys.
    """

    __test__ = False

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    night = models.ForeignKey(Night, null=True, on_delete=models.SET_NULL, related_name="moves")
    made_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    tests = models.JSONField(default=list)
    devices = models.JSONField(default=list)
    undone_at = models.DateTimeField(null=True)


class SweepFile(models.Model):
    """A file as it came, unchanged, beside the arrays read from it.

    freq_hz: F little-endian float64. s: F*P*P little-endian complex128, row-major. z0_ohm: P numbers.
    measured: P*P booleans, row-major.
    """

    test = models.ForeignKey(Test, on_delete=models.CASCADE, related_name="sweeps", db_index=False)
    role = models.CharField(max_length=16)
    name = models.CharField(max_length=255)
    raw = models.BinaryField()
    raw_sha256 = models.CharField(max_length=64, db_index=True)
    ports = models.PositiveSmallIntegerField()
    points = models.PositiveIntegerField()
    freq_hz = models.BinaryField()
    s = models.BinaryField()
    z0_ohm = models.JSONField()
    measured = models.JSONField()
    magnitude_only = models.BooleanField(default=False)
    source = models.CharField(max_length=16)
    notes = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["test", "role"], name="sweep_role_once_per_test")]


class Result(models.Model):
    """What one engine version computed from one test. A newer engine adds a row and becomes current.

    trace_names, traces: the curves for display, see `rf.sweeps.result_values`.

    evidence_curve: on the fixed grid: of common_mode G little-endian complex64, the impedance; of loss and
    match Q*G little-endian float32 (`rf.evidence_grid.FIGURE_CURVES`). Empty where there is none.
    published: what of `figures` leaves with the evidence, see `disclosure.published_figures`, so that a
    release need not read them; null where it does not count, or was computed before this was kept.
    """

    test = models.ForeignKey(Test, on_delete=models.CASCADE, related_name="results", db_index=False)
    engine_version = models.CharField(max_length=16)
    computed_at = models.DateTimeField(auto_now_add=True)
    current = models.BooleanField(default=True)
    figures = models.JSONField()
    trace_names = models.JSONField(default=list)
    traces = models.BinaryField(default=b"")
    counts_as_evidence = models.BooleanField(default=False)
    evidence_curve = models.BinaryField(default=b"")
    published = models.JSONField(null=True)
    # some flag of it asks for a look: a steward's queue reads this instead of every row's figures
    flagged = models.BooleanField(default=False, db_default=False)

    class Meta:
        indexes = [
            models.Index(
                fields=["-test"], condition=models.Q(current=True, flagged=True), name="result_flagged"
            )
        ]
        constraints = [
            models.UniqueConstraint(fields=["test", "engine_version"], name="result_once_per_engine"),
            models.UniqueConstraint(
                fields=["test"], condition=models.Q(current=True), name="result_one_current_per_test"
            ),
        ]
