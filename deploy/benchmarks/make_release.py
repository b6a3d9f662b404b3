"""Makes a release and then its files; prints the seconds of both, without the start of a process around them.

python -m deploy.benchmarks.make_release
"""

from __future__ import annotations

import os
import sys
import time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
django.setup()

from measurements.services.releases import release_files, releases  # noqa: E402  after the settings

began = time.perf_counter()
releases.make_release(files=False)
made = time.perf_counter()
release_files.store_missing_release_files()
sys.stdout.write(f"{made - began:.3f} {time.perf_counter() - made:.3f}\n")
