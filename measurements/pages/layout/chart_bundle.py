"""The chart engine of the browser, taken out of the pinned package when static files are collected.

Nothing of it is in the repository. It is made once per version, under the directory of run-time data.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import vl_convert
from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

from measurements.charts.panel_layers import VEGALITE_VERSION

FILE_NAME = "chart-engine.js"


def get_bundle_directory() -> Path:
    """Return the path of the bundle of these versions."""
    return settings.BENCHNIGHT_VAR / "chart-engine" / f"{vl_convert.__version__}-{VEGALITE_VERSION}"


def make_bundle() -> Path:
    """Return the directory with the bundle in it; makes it at the first call, so that two makers do no
    harm.
    """
    target = get_bundle_directory() / FILE_NAME
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = target.with_name(f".{FILE_NAME}.{os.getpid()}")
        draft.write_text(vl_convert.javascript_bundle(vl_version=VEGALITE_VERSION), encoding="utf-8")
        draft.replace(target)
    return target.parent


class ChartBundleFinder(BaseFinder):
    """Offers the one file to `collectstatic` and to the development server."""

    def check(self, **kwargs: Any) -> list[Any]:
        return []

    def find(self, path: str, find_all: bool = False) -> Any:
        if path != FILE_NAME:
            return []
        found = str(make_bundle() / FILE_NAME)
        return [found] if find_all else found

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        yield FILE_NAME, FileSystemStorage(location=make_bundle())
