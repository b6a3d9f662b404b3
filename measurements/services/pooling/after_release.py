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
    """The release, and what the keeper said: None without a pool or where it could not be reached."""

    release: ReleaseCounts
    sending: SendingCounts | None


def make_release_and_send(*, post: transport.Post | None = None) -> ReleaseAndSending:
    """Make the next release with its files and models, then send to the pool.

    The release stands whatever the pool does; its problem is noted on the seat, and the next release sends
    again.
    """
    made = releases.make_complete_release()
    return ReleaseAndSending(made, sendings.try_to_send(post=post))


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
