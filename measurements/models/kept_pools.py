"""A pool on the server that keeps it: its groups, their records, and what was published of all together.

No row holds a name of a person or a key of another server's ledger: persons, devices and votes are
pseudonyms that each group made at random, for each design anew.
"""

from __future__ import annotations

from django.db import models


class KeptInvitation(models.Model):
    """A code with which one group may join. The row holds only its hash."""

    code_sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=64)
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)


class KeptGroup(models.Model):
    """A group of the pool. key: its public key, in hexadecimal.

    aside_at: from the next release on its votes do not count. last_number, last_sha256: of its last sending.
    """

    key = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=64)
    joined_at = models.DateTimeField(auto_now_add=True)
    left_at = models.DateTimeField(null=True)
    aside_at = models.DateTimeField(null=True)
    aside_reason = models.CharField(max_length=300, blank=True)
    last_number = models.PositiveIntegerField(default=0)
    last_sha256 = models.CharField(max_length=64, blank=True)
    last_taken_at = models.DateTimeField(null=True)


class KeptDesign(models.Model):
    """A recipe that groups meet by. recipe_form: version of the normal form that the hash is of.

    rows: reference rows of cores, mixes and conductors that the recipe names, as the first group sent them.
    """

    recipe_sha256 = models.CharField(max_length=64, unique=True)
    recipe_form = models.PositiveSmallIntegerField()
    recipe = models.JSONField()
    rows = models.JSONField(default=dict)
    title = models.CharField(max_length=200)


class KeptRecord(models.Model):
    """One vote of one group. bands: band -> worst figure. u_class: see `disclosure.pooled_sending`.

    curve: figures on the fixed grid, see `disclosure.pooled_records`. withdrawn: no sending holds it now;
    its figures are gone then, and the row only keeps the pseudonyms that were published.
    """

    group = models.ForeignKey(KeptGroup, on_delete=models.CASCADE, related_name="records", db_index=False)
    design = models.ForeignKey(KeptDesign, on_delete=models.CASCADE, related_name="records")
    kind = models.CharField(max_length=16)
    vote = models.CharField(max_length=32)
    person = models.CharField(max_length=32)
    device = models.CharField(max_length=32)
    bands = models.JSONField()
    u_class = models.CharField(max_length=8)
    curve = models.BinaryField(default=bytes)
    quarter = models.CharField(max_length=7)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["group", "vote"], name="kept_record_once")]


class KeptSet(models.Model):
    """A set of votes that a group published alone. votes: [person, device, vote] of each."""

    group = models.ForeignKey(KeptGroup, on_delete=models.CASCADE, related_name="sets", db_index=False)
    design = models.ForeignKey(KeptDesign, on_delete=models.CASCADE, related_name="sets")
    kind = models.CharField(max_length=16)
    votes = models.JSONField()
    votes_sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["group", "design", "kind", "votes_sha256"], name="kept_set_once")
        ]


class KeptRelease(models.Model):
    """One pooled release. usual_spreads, offsets: what was learned for it, see `services.pooling`.

    after_set: the last `KeptSet` that it reckoned with.
    """

    number = models.PositiveIntegerField(primary_key=True)
    made_at = models.DateTimeField()
    core_bands = models.JSONField()
    usual_spreads = models.JSONField(default=dict)
    counts = models.JSONField()
    manifest_sha256 = models.CharField(max_length=64, blank=True)
    after_set = models.PositiveBigIntegerField(default=0)


class KeptState(models.Model):
    """The pooled set of a design, unchanged from `first_release` to `last_release` (null: on).

    votes: [group, person, device, vote] of each; weights: group -> how many persons it counts as. figures:
    band -> what is published, exact figures of no single device. It outlives the records behind it.
    """

    design = models.ForeignKey(KeptDesign, on_delete=models.PROTECT, related_name="states")
    kind = models.CharField(max_length=16)
    first_release = models.PositiveIntegerField()
    last_release = models.PositiveIntegerField(null=True)
    votes = models.JSONField()
    weights = models.JSONField()
    figures = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["design", "kind"],
                condition=models.Q(last_release=None),
                name="kept_state_one_open",
            )
        ]


class KeptReleaseFile(models.Model):
    """A plain file of a pooled release; the bytes never change."""

    release = models.ForeignKey(KeptRelease, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=32)
    media_type = models.CharField(max_length=32)
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["release", "name"], name="kept_file_once")]


class KeptOffset(models.Model):
    """How far a group reads from the others on a band, for that group alone. low, high: 95 % interval."""

    group = models.ForeignKey(KeptGroup, on_delete=models.CASCADE, related_name="offsets", db_index=False)
    release = models.ForeignKey(KeptRelease, on_delete=models.CASCADE, related_name="offsets")
    kind = models.CharField(max_length=16)
    band = models.CharField(max_length=8)
    offset = models.FloatField()
    low = models.FloatField()
    high = models.FloatField()
    certain = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["group", "release", "kind", "band"], name="kept_offset_once")
        ]
