"""A release with all that follows from it, here or by a worker (TASKS in the settings says where)."""

from __future__ import annotations

from django_tasks import task

from measurements.ingest import learning, release_files, releases, throttle
from measurements.ingest.releases import ReleaseMade


def make_whole() -> ReleaseMade:
    """Makes the next release, then its files, then what is learned from it.

    It comes regularly in every group, so old counts of uses are forgotten here as well as at a start.
    """
    made = releases.make(files=False)
    release_files.complete()
    learning.learn()
    throttle.forget_old()
    return made


@task()
def by_worker() -> int:
    """The same by whichever worker takes it; its number."""
    return make_whole().number
