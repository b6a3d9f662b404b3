"""Makes a release and prints the seconds that it took, without the start of a process around it.

python -m deploy.benchmarks.make_release
"""

from __future__ import annotations

import os
import sys
import time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
django.setup()

from measurements.ingest import releases  # noqa: E402  after the settings

began = time.perf_counter()
releases.make()
sys.stdout.write(f"{time.perf_counter() - began:.3f}\n")
