"""The plain service's views, and its settings; served as `deploy.benchmarks.plain.service:application`."""

from __future__ import annotations

import hashlib
import io
import os
from collections import defaultdict
from typing import Any

import dj_database_url
import django
import numpy as np
import skrf
from django.conf import settings

settings.configure(
    SECRET_KEY="bench",  # noqa: S106 nothing is signed here
    ALLOWED_HOSTS=["*"],
    ROOT_URLCONF=__name__,
    DATABASES={
        "default": dj_database_url.parse(
            os.environ["BENCHNIGHT_DATABASE_URL"], conn_max_age=600, conn_health_checks=True
        )
    },
    INSTALLED_APPS=[
        "django.contrib.contenttypes",
        "django.contrib.auth",
        "rest_framework",
        "rest_framework.authtoken",
        "deploy.benchmarks.plain",
    ],
    MIDDLEWARE=["django.middleware.common.CommonMiddleware"],
    DEFAULT_AUTO_FIELD="django.db.models.BigAutoField",
    REST_FRAMEWORK={
        "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.TokenAuthentication"],
        "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    },
    USE_TZ=True,
)
django.setup()

# after the settings
from django.core.handlers.wsgi import WSGIHandler  # noqa: E402
from django.db import transaction  # noqa: E402
from django.http import HttpResponse  # noqa: E402
from django.urls import path  # noqa: E402
from rest_framework import serializers  # noqa: E402
from rest_framework.exceptions import PermissionDenied  # noqa: E402
from rest_framework.parsers import MultiPartParser  # noqa: E402
from rest_framework.permissions import IsAuthenticated  # noqa: E402
from rest_framework.request import Request  # noqa: E402
from rest_framework.response import Response  # noqa: E402
from rest_framework.views import APIView  # noqa: E402

from deploy.benchmarks.analysis import BANDS  # noqa: E402
from deploy.benchmarks.plain.models import Design, Device, Result, Sweep, Test  # noqa: E402

MIN_CONTRIBUTORS = 5
PAGE = 50


class TestForm(serializers.Serializer):
    """What is sent with a sweep."""

    __test__ = False

    device = serializers.SlugRelatedField(slug_field="key", queryset=Device.objects.all())
    kind = serializers.ChoiceField(["common_mode"])
    calibrated = serializers.BooleanField()
    measured_on = serializers.DateField()
    sweep = serializers.FileField()


class TestSerializer(serializers.ModelSerializer):
    """A stored test and its figures."""

    __test__ = False

    device = serializers.SlugRelatedField(slug_field="key", read_only=True)
    design = serializers.CharField(source="device.design.title")
    name = serializers.CharField(source="sweep.name")
    bands = serializers.JSONField(source="result.bands")

    class Meta:
        model = Test
        fields = "__all__"


class TestsView(APIView):
    """Stores a sweep."""

    __test__ = False
    permission_classes = (IsAuthenticated,)
    parser_classes = (MultiPartParser,)

    def post(self, request: Request) -> Response:
        """Read, computes and store."""
        form = TestForm(data=request.data)
        form.is_valid(raise_exception=True)
        given = dict(form.validated_data)
        if given["device"].owner_id != request.user.pk:
            raise PermissionDenied
        file = given.pop("sweep")
        raw = file.read()
        bands, curve = compute_figures(raw, file.name)
        with transaction.atomic():
            test = Test.objects.create(**given, sweep_sha256=hashlib.sha256(raw).hexdigest())
            Sweep.objects.create(test=test, name=file.name, raw=raw)
            Result.objects.create(test=test, bands=bands, curve=curve)
        return Response(TestSerializer(test).data, status=201)


def compute_figures(raw: bytes, name: str) -> tuple[dict[str, dict[str, float]], dict[str, list[float]]]:
    """Return (figures by band, curve) of a two-port in series with the common mode, 50 ohm."""
    stream = io.StringIO(raw.decode("ascii"))
    stream.name = name  # scikit-rf reads the number of ports from the name
    network = skrf.Network(stream)
    freq_hz, through = network.f, network.s[:, 1, 0]
    z_ohm = 100 * (1 - through) / through
    rejection_db = -20 * np.log10(np.abs(through))
    bands = {}
    for band in BANDS:
        inside = (freq_hz >= band.start_hz) & (freq_hz <= band.stop_hz)
        if inside.any():
            worst = int(np.argmin(np.where(inside, rejection_db, np.inf)))
            bands[band.name] = {
                "worst_db": float(rejection_db[worst]),
                "median_db": float(np.median(rejection_db[inside])),
                "r_ohm": float(z_ohm[worst].real),
                "x_ohm": float(z_ohm[worst].imag),
            }
    named = {"freq_hz": freq_hz, "rejection_db": rejection_db, "r_ohm": z_ohm.real, "x_ohm": z_ohm.imag}
    return bands, {each: values.tolist() for each, values in named.items()}


class DesignSerializer(serializers.ModelSerializer):
    """A design with its evidence jointly on the bands asked for."""

    devices = serializers.IntegerField()
    contributors = serializers.IntegerField()
    meeting = serializers.IntegerField()
    worst_db = serializers.FloatField()

    class Meta:
        model = Design
        fields = ("key", "title", "recipe", "devices", "contributors", "meeting", "worst_db")


class DesignsView(APIView):
    """Designs by how many of their devices meet the benchmark on every band asked for."""

    def get(self, request: Request) -> Response:
        """Return the first page."""
        bands, benchmark_db = request.GET.getlist("band"), float(request.GET["benchmark_db"])
        owners, votes = defaultdict(set), defaultdict(list)
        tests = Test.objects.values_list("device__design", "device__owner", "result__bands")
        for design, owner, worst in tests:
            if all(band in worst for band in bands):
                owners[design].add(owner)
                votes[design].append(min(worst[band]["worst_db"] for band in bands))
        rows: list[Any] = [row for row in Design.objects.all() if len(owners[row.pk]) >= MIN_CONTRIBUTORS]
        for row in rows:
            row.devices, row.contributors = len(votes[row.pk]), len(owners[row.pk])
            row.meeting = sum(value >= benchmark_db for value in votes[row.pk])
            row.worst_db = min(votes[row.pk])
        rows.sort(key=lambda row: (-row.meeting / row.devices, row.pk))
        return Response({"results": DesignSerializer(rows[:PAGE], many=True).data})


urlpatterns = [
    path("healthz", lambda _request: HttpResponse(b"ok")),
    path("tests/", TestsView.as_view()),
    path("designs/", DesignsView.as_view()),
]
application = WSGIHandler()
