"""`manage.py pool ...`: a pool of groups, on the server that keeps it and on the server of a group."""

from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from measurements.errors import BenchnightError
from measurements.selectors.pooling import kept_files, pool
from measurements.services.pooling import copies, keeper_groups, keeper_releases, seats, sendings


class Command(BaseCommand):
    help = "Keeps a pool of groups (invite, groups, aside, back, release), or takes part (join, send, fetch)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        acts = parser.add_subparsers(dest="act", required=True)
        invite = acts.add_parser("invite", help="keeper: print an invitation for one group")
        invite.add_argument("name", metavar="NAME", help="the group")
        invite.add_argument("--address", required=True, help="where groups reach this server, https://...")
        acts.add_parser("groups", help="keeper: list the groups")
        aside = acts.add_parser("aside", help="keeper: leave a group out from the next pooled release on")
        aside.add_argument("key", metavar="KEY", help="the group's key, or its first 8 characters")
        aside.add_argument("--reason", required=True)
        back = acts.add_parser("back", help="keeper: let a group count again")
        back.add_argument("key", metavar="KEY")
        release = acts.add_parser("release", help="keeper: make the next pooled release")
        release.add_argument("--directory", type=Path, metavar="DIR", help="also write its plain files there")
        join = acts.add_parser("join", help="group: join by an invitation")
        join.add_argument("invitation", metavar="INVITATION")
        join.add_argument("--name", default="", help="this group's name in the pool")
        acts.add_parser("send", help="group: send now; every release sends by itself")
        fetch = acts.add_parser("fetch", help="group: fetch the newest pooled release")
        fetch.add_argument("--source", metavar="ADDRESS", help="from now on fetch from this static host")
        acts.add_parser("leave", help="group: withdraw everything and leave")

    def handle(self, *_args: Any, **options: Any) -> None:
        acts: dict[str, Callable[[dict[str, Any]], str]] = {
            "invite": _invite,
            "groups": _list_groups,
            "aside": _set_aside,
            "back": _take_back,
            "release": _release,
            "join": _join,
            "send": _send,
            "fetch": _fetch,
            "leave": _leave,
        }
        try:
            said = acts[options["act"]](options)
        except BenchnightError as error:
            raise CommandError(error.detail) from error
        if options["verbosity"]:
            self.stdout.write(said)


def _invite(options: dict[str, Any]) -> str:
    return str(keeper_groups.invite_group(by=None, address=options["address"], name=options["name"]))


def _list_groups(_options: dict[str, Any]) -> str:
    lines = [f"{row.key[:16]} {row.name}: {row.describe_state()}" for row in pool.list_kept_groups()]
    return "\n".join(lines) or "No group has joined."


def _set_aside(options: dict[str, Any]) -> str:
    keeper_groups.set_group_aside(by=None, key=options["key"], reason=options["reason"])
    return "From the next pooled release on this group does not count."


def _take_back(options: dict[str, Any]) -> str:
    keeper_groups.take_group_back(by=None, key=options["key"])
    return "From the next pooled release on this group counts."


def _release(options: dict[str, Any]) -> str:
    made = keeper_releases.make_pooled_release()
    if options["directory"] is not None:
        _write_directory(options["directory"])
    return (
        f"Pooled release {made.number} of {made.groups} groups: {made.replaced} designs changed, {made.kept} "
        f"kept, {made.withheld} withheld, {made.waiting} wait for more people"
    )


def _write_directory(directory: Path) -> None:
    """Write every pooled release as plain files, `N/NAME` beside `latest.json`, for any static host.

    A file that is there with the same bytes stays; the pointer comes last.
    """
    for row in kept_files.list_kept_releases():
        own = directory / str(row.number)
        own.mkdir(parents=True, exist_ok=True)
        for name in row.files:
            content = kept_files.get_file(row.number, name).content
            if not (own / name).is_file() or (own / name).read_bytes() != content:
                (own / name).write_bytes(content)
    (directory / kept_files.LATEST).write_text(kept_files.format_pointer(), encoding="ascii")


def _join(options: dict[str, Any]) -> str:
    seats.join_pool(by=None, invitation=options["invitation"], group_name=options["name"])
    return "Joined. Members choose on their account's page; the next release sends."


def _send(_options: dict[str, Any]) -> str:
    made = sendings.send_votes()
    return f"Sent: {made.new} new votes, {made.withdrawn} withdrawn, {made.unchanged} unchanged"


def _fetch(options: dict[str, Any]) -> str:
    if options["source"] is not None:
        seats.set_source(by=None, source=options["source"])
    copy = copies.fetch_release()
    if copy is None:
        return "There is no newer pooled release."
    gained = copy.gained
    return f"Pooled release {copy.number}: {gained['now']} designs with a verdict, {gained['before']} before"


def _leave(_options: dict[str, Any]) -> str:
    seats.leave_pool(by=None)
    return "Left. The keeper has withdrawn every vote of this group."
