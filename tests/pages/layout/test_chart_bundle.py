"""The browser's chart engine comes out of the pinned package, whole and once."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.core.management import call_command
from django.test import override_settings

from measurements.pages.layout import chart_bundle


@pytest.fixture
def var(tmp_path: Path):
    with override_settings(BENCHNIGHT_VAR=tmp_path):
        yield tmp_path


def test_it_is_made_once_and_found(var: Path):
    found = Path(finders.find(chart_bundle.FILE_NAME))
    made_at = found.stat().st_mtime_ns
    assert var in found.parents
    text = found.read_text(encoding="utf-8")
    assert "window.vegaEmbed=" in text
    # the interpreter that lets charts run without eval
    assert "expressionInterpreter" in text
    assert Path(finders.find(chart_bundle.FILE_NAME)).stat().st_mtime_ns == made_at
    assert [entry.name for entry in found.parent.iterdir()] == [chart_bundle.FILE_NAME]


def test_other_names_are_not_its_business(var: Path):
    assert chart_bundle.ChartBundleFinder().find("other.js") == []
    assert list(var.iterdir()) == []


def test_collectstatic_collects_it_with_a_hashed_name(var: Path, tmp_path: Path):
    storages = {"staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}}
    target = tmp_path / "static"
    with override_settings(
        STORAGES=storages,
        STATIC_ROOT=target,
        STATICFILES_FINDERS=[
            "measurements.pages.layout.chart_bundle.ChartBundleFinder",
            "django.contrib.staticfiles.finders.FileSystemFinder",
        ],
    ):
        call_command("collectstatic", interactive=False, verbosity=0)
    assert list(target.glob("chart-engine.*.js")) and list(target.glob("benchnight.*.css"))


def test_our_own_files_are_small():
    static = Path(chart_bundle.__file__).parents[1] / "static"
    assert (static / "benchnight.css").stat().st_size < 25_000
    assert (static / "benchnight.js").stat().st_size < 8_000


def test_colours_of_pages_and_charts_agree():
    from measurements.charts.colours import PALETTES

    css = (Path(chart_bundle.__file__).parents[1] / "static/benchnight.css").read_text(encoding="utf-8")
    for palette in PALETTES.values():
        assert f"--card: {palette.ground};" in css
