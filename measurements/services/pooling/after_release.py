"""Makes this group's release with all that follows from it in a pool: send, then fetch what is new there."""

from __future__ import annotations

from dataclasses import dataclass

from django_tasks import task

from measurements.errors import BenchnightError
from measurements.models import PoolSeat
from measurements.services.pooling import copies, sendings, transport
from measurements.services.pooling.sendings import SendingCounts
from measurements.services.releases import releases
from measurements.services.releases.releases import ReleaseCounts


@dataclass(frozen=True)
class ReleaseAndSending:
    """The release, and what the keeper said: None without a pool or where it could not be reached.

    fetched: whether a newer pooled release was there.
    """

    release: ReleaseCounts
    sending: SendingCounts | None
    fetched: bool


def make_release_and_send(
    *, post: transport.Post | None = None, get: transport.Get | None = None
) -> ReleaseAndSending:
    """Make the next release with its files and models, send to the pool, and fetch its newest release.

    The release stays whatever the pool does; its problem is noted on the seat, and the next release sends
    again.
    """
    made = releases.make_complete_release()
    sent = sendings.try_to_send(post=post)
    # who cannot be reached once is not waited for twice
    return ReleaseAndSending(made, sent, sent is not None and try_to_fetch(get=get))


def try_to_fetch(*, get: transport.Get | None = None) -> bool:
    """Fetch the newest pooled release where there is a newer one; say whether there was.

    What hindered it is noted on the seat: the last copy goes on being shown.
    """
    seat = sendings.get_open_seat()
    if seat is None:
        return False
    try:
        return copies.fetch_release(get=get) is not None
    except BenchnightError as error:
        PoolSeat.objects.filter(pk=seat.pk).update(last_problem=error.detail[: sendings.MOST_PROBLEM])
        return False


@task()
def make_release_by_worker() -> int:
    """Return the same by whichever worker takes it; the release's number."""
    return make_release_and_send().release.number
