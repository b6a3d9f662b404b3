"""Takes back everything that was ever published; the numbers of the releases stay, so the next counts on."""

from __future__ import annotations

from measurements.models import (
    Cell,
    LearnedModel,
    PublishedPool,
    PublishedVote,
    Release,
    ReleaseAnswer,
    ReleaseFile,
    ReleaseFilePart,
)


def withdraw_all_releases() -> None:
    """Delete cells, their votes, pools, answers, learned models and the contents of files.

    Call inside a transaction. The next release knows of nothing published before.
    """
    for table in (LearnedModel, ReleaseAnswer, PublishedPool, PublishedVote, Cell, ReleaseFilePart):
        table.objects.all().delete()
    ReleaseFile.objects.update(withdrawn=True)
    Release.objects.update(usual_spreads={})
