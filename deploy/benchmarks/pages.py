"""What every page costs at the size of a large group: a table of page, reader and figures.

    python -m deploy.benchmarks.pages [--share 0.1] [--page NAME ...] [--keep DIRECTORY]

The group of `group.CLUB` is filled into SQLite, with a little of everything that the tests furnish beside it
(`tests/pages/full_group.py`). The table asks for every visit of `tests/pages/visits.py` three times, in this
process. Milliseconds are the median; they depend on the machine and no test asserts them. --share: a smaller
or larger group. --keep: fill that directory once and measure it again later.
"""

from __future__ import annotations

import argparse
import gzip
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from django.test import Client

ROUNDS = 3
KIB = 1024
HEADING = f"{'page':<18}{'reader':<10}{'ms':>7}{'queries':>9}{'kB gz':>8}{'kB sent':>9}{'nodes':>8}  address"


@dataclass(frozen=True)
class PageFigures:
    """Costs of one page. compressed, sent: bytes of its HTML by gzip, and as the server sends it."""

    status: int
    server_ms: float
    queries: int
    compressed: int
    sent: int
    nodes: int


class _NodeCounter(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.count = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.count += 1


def count_nodes(html: bytes) -> int:
    """Count the elements of a page."""
    counter = _NodeCounter()
    counter.feed(html.decode())
    return counter.count


def measure_page(client: Client, address: str, rounds: int = 1) -> PageFigures:
    """Ask for a page and answer what it costs."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    took_ms = []
    for _ in range(rounds):
        began = time.perf_counter()
        with CaptureQueriesContext(connection) as captured:
            reply = client.get(address, headers={"accept-encoding": "gzip"})
        took_ms.append(1e3 * (time.perf_counter() - began))
    sent: bytes = reply.content
    html = gzip.decompress(sent) if reply.get("Content-Encoding") == "gzip" else sent
    return PageFigures(
        reply.status_code,
        statistics.median(took_ms),
        len(captured),
        len(gzip.compress(html, 6)),
        len(sent),
        count_nodes(html),
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--share", type=float, default=1.0)
    parser.add_argument("--page", action="append", default=[])
    parser.add_argument("--keep", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="benchnight-pages-") as scratch:
        _start_django(options.keep or Path(scratch))
        house = _open_group(options.share)
        sys.stdout.write(HEADING + "\n")
        for line in _measure_visits(house, options.page):
            sys.stdout.write(line + "\n")
            sys.stdout.flush()
    return 0


def _measure_visits(house: Any, pages: list[str]) -> Iterator[str]:
    from tests.pages.visits import VISITS

    for page, visits in VISITS.items():
        if pages and page not in pages:
            continue
        for visit in visits:
            address = visit.address.format(**house.keys)
            figures = measure_page(house.clients[visit.who], address, ROUNDS)
            mark = "" if figures.status == visit.status else f"  answered {figures.status}"
            yield f"{page:<18} {visit.who:<9}{format_figures(figures)}  {address}{mark}"


def format_figures(figures: PageFigures) -> str:
    """Format one line of the table, in the columns of `HEADING`."""
    sizes = f"{figures.compressed / KIB:>8.1f}{figures.sent / KIB:>9.1f}"
    return f"{figures.server_ms:>7.0f}{figures.queries:>9}{sizes}{figures.nodes:>8}"


def _open_group(share: float) -> Any:
    """Fill the group, or open the one that is there."""
    from django.core.management import call_command

    from measurements.models import Design
    from measurements.services.releases import releases
    from tests.pages import full_group

    call_command("migrate", verbosity=0)
    call_command("load_reference", stdout=sys.stderr)
    call_command("collectstatic", interactive=False, verbosity=0)
    kept = _kept_file()
    if Design.objects.exists():
        return _open_kept(kept)
    began = time.perf_counter()
    house = full_group.furnish()
    from deploy.benchmarks import group

    operator, member = house.viewers["operator"], house.viewers["member"]
    group.fill_group(
        group.scale_size(group.CLUB, share),
        member=int(member.member_id or 0),
        operator=int(operator.member_id or 0),
        night=house.keys["night"],
        first=100,
    )
    releases.make_release(files=False)
    sys.stderr.write(f"filled in {time.perf_counter() - began:.0f} s\n")
    _keep(kept, house)
    return house


def _kept_file() -> Path:
    from django.conf import settings

    return Path(settings.BENCHNIGHT_VAR) / "house.json"


def _keep(path: Path, house: Any) -> None:
    import json

    cookies = {
        who: {name: each.value for name, each in client.cookies.items()}
        for who, client in house.clients.items()
    }
    path.write_text(json.dumps({"keys": house.keys, "cookies": cookies}), encoding="utf-8")


def _open_kept(path: Path) -> Any:
    import json
    from types import SimpleNamespace

    from django.test import Client

    kept = json.loads(path.read_text(encoding="utf-8"))
    clients = {}
    for who, cookies in kept["cookies"].items():
        clients[who] = Client()
        clients[who].cookies.load(cookies)
    return SimpleNamespace(keys=kept["keys"], clients=clients)


def _start_django(var: Path) -> None:
    import secrets

    import django

    var.mkdir(parents=True, exist_ok=True)
    secret = var / "secret"
    if not secret.exists():
        secret.write_text(secrets.token_urlsafe(64), encoding="utf-8")
    from deploy.benchmarks.stack import UNLIMITED

    os.environ.update(
        UNLIMITED,
        BENCHNIGHT_VAR=str(var),
        BENCHNIGHT_HOSTS="testserver",
        BENCHNIGHT_SECRET_KEY=secret.read_text(encoding="utf-8"),
        DJANGO_SETTINGS_MODULE="deploy.settings",
    )
    django.setup()


if __name__ == "__main__":
    sys.exit(main())
