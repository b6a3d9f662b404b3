"""Reference data: dated and sourced rows, never constants in code. `basis` says how it is known."""

from __future__ import annotations

from datetime import date

from django.db import models


class Sourced(models.Model):
    """Every reference row says where it comes from, how it is known, and as of when."""

    source = models.TextField()
    basis = models.CharField(max_length=32)
    as_of = models.DateField()
    note = models.TextField(blank=True)

    class Meta:
        abstract = True


class AllocationQuerySet(models.QuerySet["Allocation"]):
    """Band plans by region and day."""

    def in_force(self, region: int, on: date) -> AllocationQuerySet:
        """Return the bands of an ITU region as allocated on a day, lowest first; `valid_to` is the last
        day.
        """
        started = self.filter(region=region, valid_from__lte=on)
        return started.exclude(valid_to__lt=on).order_by("start_hz")


class Allocation(Sourced):
    """An amateur band of one ITU region, from a date until another (or until further notice)."""

    region = models.PositiveSmallIntegerField()
    band = models.CharField(max_length=8)
    start_hz = models.FloatField()
    stop_hz = models.FloatField()
    valid_from = models.DateField()
    valid_to = models.DateField(null=True)

    objects = AllocationQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["region", "band", "valid_from"], name="allocation_once"),
            models.CheckConstraint(
                condition=models.Q(start_hz__lt=models.F("stop_hz")), name="allocation_edges_in_order"
            ),
        ]


class Benchmark(Sourced):
    """A limit a test is held against: `metric` of `kind`, as of `as_of`; the newest row counts."""

    kind = models.CharField(max_length=16)
    metric = models.CharField(max_length=32)
    value = models.FloatField()
    unit = models.CharField(max_length=8)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "metric", "as_of"], name="benchmark_once")]


class Mix(Sourced):
    """A ferrite material. rows: [[frequency_hz, mu', mu''], ...], empty where none is published."""

    name = models.CharField(max_length=16, unique=True)
    initial_permeability = models.FloatField(null=True)
    curie_c = models.FloatField(null=True)
    resistivity_ohm_cm = models.FloatField(null=True)
    rows = models.JSONField(default=list)


class Core(Sourced):
    """A core that a maker lists; a missing value stays missing."""

    part = models.CharField(max_length=32, unique=True)
    shape = models.CharField(max_length=16)
    outer_mm = models.FloatField(null=True)
    inner_mm = models.FloatField(null=True)
    height_mm = models.FloatField(null=True)
    mix = models.CharField(max_length=16)
    al_nh = models.FloatField(null=True)
    al_tolerance_percent = models.FloatField(null=True)


class CoreAlias(models.Model):
    """A size that members typed and a steward found to be a listed core: recipes with it are of that core."""

    shape = models.CharField(max_length=16)
    outer_mm = models.FloatField()
    inner_mm = models.FloatField()
    height_mm = models.FloatField()
    mix = models.CharField(max_length=16)
    core = models.ForeignKey(Core, on_delete=models.CASCADE, related_name="aliases")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["shape", "outer_mm", "inner_mm", "height_mm", "mix"], name="core_alias_once"
            )
        ]


class Conductor(Sourced):
    """What a winding may be made of: a name from a list, because a recipe is published."""

    name = models.CharField(max_length=64, unique=True)
    outer_mm = models.FloatField(null=True)
