"""The steps of deploy/run inside the environment: database, reference data, demo, release, static files.

Every step may be repeated. A mark under var/ stands from before the first table until the last step
of a first start, so that a first start that was cut short is taken up again.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import django
from django.core.exceptions import ImproperlyConfigured
from django.core.management import CommandError, call_command

from deploy import environment, local_network, private_files
from deploy.virtualenv import NotReadyError, print_progress

WITH_DEMO = "with demo"
WITHOUT_DEMO = "without demo"


def main() -> int:
    parser = argparse.ArgumentParser(prog="deploy/prepare.py")
    parser.add_argument("--greeting-fd", type=int, required=True)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--no-demo", action="store_true")
    parser.add_argument("--terminal", action="store_true")
    parser.add_argument("--lan", action="store_true")
    options = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    try:
        variables = _choose_variables(options)
        os.environ.update(variables)
        django.setup()
        _prepare(no_demo=options.no_demo)
        greeting = _build_greeting(on_terminal=options.terminal, lan=options.lan)
        with os.fdopen(options.greeting_fd, "w", encoding="utf-8") as told:
            json.dump({"greeting": greeting, "variables": variables}, told)
    except (ImproperlyConfigured, CommandError, NotReadyError) as error:
        sys.stderr.write(f"\n{error}\n")
        return 1
    return 0


def _choose_variables(options: argparse.Namespace) -> dict[str, str]:
    """Choose the settings that follow from port and network, and that the environment does not give.

    Codes on cards and labels lead to the site's address: they are printed with what is chosen here.
    """
    chosen = {"BENCHNIGHT_SITE": f"http://127.0.0.1:{options.port}"}
    if options.lan:
        chosen = _choose_lan_variables(options)
    return {name: value for name, value in chosen.items() if not os.environ.get(name)}


def _choose_lan_variables(options: argparse.Namespace) -> dict[str, str]:
    """Choose hosts, site address and time zone on the local network. Raises NotReadyError."""
    if environment.read_environment()["DEBUG"]:
        raise NotReadyError(
            "BENCHNIGHT_DEBUG shows settings and code to whoever meets an error: not on a network. Take it "
            "out of the environment, or leave --lan away."
        )
    addresses = local_network.list_lan_addresses()
    if not addresses:
        raise NotReadyError(
            "This machine is on no network. Join one or open this machine's hotspot, then start again."
        )
    zone = os.environ.get("BENCHNIGHT_TIME_ZONE") or local_network.find_machine_zone()
    if options.terminal and sys.stdin.isatty():
        if not os.environ.get("BENCHNIGHT_TIME_ZONE"):
            zone = local_network.ask_for_zone(zone)
        if not local_network.confirm_clock(zone):
            raise NotReadyError(
                "Set this machine's clock first, for example: sudo date --set '2026-05-14 19:30'. Tests and "
                "nights are dated by it."
            )
    return {
        "BENCHNIGHT_HOSTS": ",".join(local_network.list_host_names(addresses)),
        "BENCHNIGHT_SITE": f"http://{addresses[0]}:{options.port}",
        "BENCHNIGHT_TIME_ZONE": zone,
    }


def _prepare(*, no_demo: bool) -> None:
    from django.conf import settings

    mark = settings.BENCHNIGHT_VAR / "first-start"
    if _is_new():
        # a server that only prepares has made none yet
        private_files.make_private_directory(mark.parent)
        mark.write_text(WITHOUT_DEMO if no_demo else WITH_DEMO, encoding="ascii")
    with _step("Database"):
        call_command("migrate", verbosity=0, interactive=False)
        if settings.BENCHNIGHT_SERVICE_ROLE:
            call_command("grant_rights", verbosity=0)
        call_command("tidy", verbosity=0)
    with _step("Reference data"):
        call_command("load_reference", verbosity=0)
    if mark.exists():
        _first_start(mark)
    with _step("Evidence files"):
        call_command("release_files", verbosity=0)
        call_command("learn", if_missing=True, verbosity=0)
    with _step("Static files"):
        call_command("collectstatic", verbosity=0, interactive=False)
    private_files.protect_files(settings.BENCHNIGHT_VAR)


def _first_start(mark: Path) -> None:
    if mark.read_text(encoding="ascii") == WITH_DEMO:
        with _step("Demo scenario (invented people, devices and sweeps)"):
            call_command("load_demo", verbosity=0)
    with _step("First evidence release"):
        call_command("release", verbosity=0)
    mark.unlink()


def _is_new() -> bool:
    """Say whether the database has no table of ours yet."""
    from django.db import connection
    from django.db.migrations.recorder import MigrationRecorder

    return not MigrationRecorder(connection).applied_migrations()


@contextmanager
def _step(name: str) -> Iterator[None]:
    started = time.monotonic()
    print_progress(f"{name} ...")
    yield
    print_progress(f"  done in {time.monotonic() - started:.1f} s")


def _build_greeting(*, on_terminal: bool, lan: bool) -> str:
    """Build the greeting that appears once the server answers."""
    from django.conf import settings

    site = settings.BENCHNIGHT_SITE.rstrip("/")
    links = list(_iterate_sign_in_links(on_terminal=on_terminal))
    if links:
        width = max(len(name) for name, _, _ in links)
        lines = ["Sign in as somebody of the demo group (each link works once, for a day):"]
        lines += [f"  {role:<9} {name:<{width}}  {link}" for name, role, link in links]
    else:
        lines = ["Make your account, which prints a link that signs in once:"]
        lines += [f"  {sys.executable} manage.py member YOUR-NAME --role steward"]
    network = _list_network_lines(f"{site}/", on_terminal=on_terminal) if lan else []
    return "\n".join(["", f"Benchnight is ready: {site}/", *network, *lines, "Stop it with Ctrl-C.", ""])


def _list_network_lines(address: str, *, on_terminal: bool) -> list[str]:
    """List the lines of the greeting that people on the local network need."""
    from django.conf import settings

    from measurements.selectors.operations.server_figures import get_newest_entry_time

    now = datetime.now(UTC)
    lines = [f"Clock: {local_network.describe_clock(now, settings.TIME_ZONE)}.", local_network.WARNING]
    if local_network.is_clock_behind(now, get_newest_entry_time()):
        lines.insert(1, "THIS CLOCK IS WRONG: something stored here is newer. Set it, then start again.")
    if on_terminal:
        lines.insert(0, local_network.draw_qr_text(address))
    return lines


def _iterate_sign_in_links(*, on_terminal: bool) -> Iterator[tuple[str, str, str]]:
    """List name, role and a new link of each demo account that there is.

    on_terminal: without one a steward gets the command that makes a link, because files and logs keep it.
    """
    from measurements.errors import BenchnightError
    from measurements.services.accounts import accounts
    from measurements.services.demo import demo

    for name, role in demo.ACCOUNTS:
        if role == "steward" and not on_terminal:
            if accounts.has_account(name=name):
                yield name, role, f'get a link with: {sys.executable} manage.py member "{name}"'
            continue
        try:
            secret = accounts.issue_sign_in_link(name=name)
        except BenchnightError as error:
            if error.code != "account.not_found":
                raise
            continue  # started without the demo
        yield name, role, build_sign_in_address(secret)


def build_sign_in_address(secret: str) -> str:
    """Return the address of a one-time link, as `manage.py member` prints it."""
    from django.conf import settings
    from django.urls import reverse

    return settings.BENCHNIGHT_SITE.rstrip("/") + reverse("pages:sign_in_link", args=[secret])


if __name__ == "__main__":
    sys.exit(main())
