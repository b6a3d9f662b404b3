"""One question to everything that the viewer may see: designs, devices, places, nights, people, tests, parts.

Each group asks the rows that its own pages show, with the same conditions: what is somebody else's is neither
found nor counted. Whoever is not signed in finds designs, cores and conductors, which everybody may read.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, Q, QuerySet, Window
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.models import Contributor, Design, Device, Member, Night, Test
from measurements.rf.analysis import KINDS
from measurements.selectors.designs.design_filters import DesignWords
from measurements.selectors.devices import devices, owners
from measurements.selectors.reference import reference
from measurements.selectors.search.day_words import Days, read_days
from measurements.selectors.tests import tests as tests_selectors

MOST_HITS = 6
MOST_CHARACTERS = 120
NOISE = frozenset({"test", "tests", "of", "on", "the", "at", "in", "my", "from", "a"})


@dataclass(frozen=True)
class Hit:
    """Something found. what: the sort of thing. key: what its page is opened by. detail: words beside it."""

    what: str
    key: str
    title: str
    detail: str = ""


@dataclass(frozen=True)
class HitGroup:
    """What was found of one sort: the first ones, and how many there are in all."""

    what: str
    hits: tuple[Hit, ...]
    total: int


@dataclass(frozen=True)
class Question:
    """A question as it was understood.

    words: each has to be found. days: the days that it names, None where it names none. kind: of a test.
    rest: the words without those on days and kinds.
    """

    words: tuple[str, ...]
    days: Days | None
    kind: str
    rest: tuple[str, ...]


def read_question(text: str, today: date | None = None) -> Question:
    """Read what was typed; at most 120 characters of it count."""
    plain = " ".join(text.replace("\x00", " ").split())[:MOST_CHARACTERS]
    days = read_days(plain, today or timezone.localdate())
    left, kind = plain if days is None else days.rest, ""
    for name in KINDS:
        spoken = name.replace("_", " ")
        if spoken in left.lower():
            at = left.lower().index(spoken)
            kind, left = name, f"{left[:at]} {left[at + len(spoken) :]}"
            break
    rest = tuple(word for word in left.split() if word.lower() not in NOISE)
    return Question(tuple(plain.split()), days, kind, rest)


def search_everything(
    viewer: Viewer, text: str, design_words: DesignWords, *, today: date | None = None
) -> tuple[HitGroup, ...]:
    """Find what fits the text, the narrowest sort first; groups without a hit are left out.

    design_words: the text read as a design. today: what "yesterday" goes by.
    """
    asked = read_question(text, today)
    if not asked.words:
        return ()
    found = [_find_designs(design_words), _find_parts(asked)]
    if viewer.signed_in:
        found = [
            _find_tests(viewer, asked),
            _find_devices(viewer, asked),
            _find_places(viewer, asked),
            _find_nights(viewer, asked),
            _find_people(viewer, asked),
            *found,
        ]
    return tuple(group for group in found if group.total)


def _match_words(words: tuple[str, ...], *columns: str) -> Q:
    """Build the condition that one of the columns holds each word."""
    condition = Q()
    for word in words:
        somewhere = Q()
        for column in columns:
            somewhere |= Q(**{f"{column}__icontains": word})
        condition &= somewhere
    return condition


def _find_designs(words: DesignWords) -> HitGroup:
    if words.is_empty:
        return HitGroup("design", (), 0)
    rows = Design.objects.standing().filter(words.build_condition()).order_by("title", "key")
    found, total = _read_first(rows, "key", "title")
    return HitGroup("design", tuple(Hit("design", *row) for row in found), total)


def _find_devices(viewer: Viewer, asked: Question) -> HitGroup:
    columns = ["tag", "place", "make", "kind"]
    if viewer.is_steward:
        columns += ["contributor__member__name", "contributor__guest_name"]
    rows = Device.objects.filter(devices.build_device_visibility(viewer)).filter(
        Q(key=asked.words[0].lower()) | _match_words(asked.words, *columns)
    )
    rows = rows.order_by("retired_on", "tag", "key")
    found, total = _read_first(rows, "key", "tag", "place", "design__title")
    hits = tuple(
        Hit("device", key, tag, " · ".join(filter(None, (place, title or owners.UNKNOWN_BUILD))))
        for key, tag, place, title in found
    )
    return HitGroup("device", hits, total)


def _find_places(viewer: Viewer, asked: Question) -> HitGroup:
    rows = Device.objects.filter(devices.build_device_visibility(viewer), retired_on=None).exclude(place="")
    rows = rows.filter(_match_words(asked.words, "place"))
    counted = rows.values("place").annotate(devices=Count("pk")).order_by("-devices", "place")
    found, total = _read_first(counted, "place", "devices")
    hits = tuple(
        Hit("place", place, place, f"{count} device{'' if count == 1 else 's'}") for place, count in found
    )
    return HitGroup("place", hits, total)


def _find_nights(viewer: Viewer, asked: Question) -> HitGroup:
    if not viewer.is_operator:
        return HitGroup("night", (), 0)
    rows = Night.objects.all() if viewer.is_steward else Night.objects.filter(staff__member=viewer.member_id)
    rows = rows.filter(_match_words(asked.words if asked.days is None else asked.rest, "title"))
    if asked.days is not None:
        rows = rows.filter(held_on__range=(asked.days.first, asked.days.last))
    found, total = _read_first(rows.order_by("-held_on", "-pk"), "key", "title", "held_on")
    hits = tuple(Hit("night", key, title or "Club night", _write_day(day)) for key, title, day in found)
    return HitGroup("night", hits, total)


def _find_people(viewer: Viewer, asked: Question) -> HitGroup:
    """Find accounts and guests, for stewards alone: nobody else has a list of names."""
    if not viewer.is_steward:
        return HitGroup("person", (), 0)
    members = Member.objects.filter(_match_words(asked.words, "name"))
    guests = Contributor.objects.filter(member=None).exclude(guest_name="")
    guests = guests.filter(_match_words(asked.words, "guest_name"))
    accounts, known = _read_first(members.order_by("name"), "name", "role")
    others, guest_count = _read_first(guests.order_by("guest_name"), "guest_name")
    hits = [Hit("person", name, name, role) for name, role in accounts]
    hits += [Hit("guest", name, name, "guest") for (name,) in others]
    return HitGroup("person", tuple(hits[:MOST_HITS]), known + guest_count)


def _find_tests(viewer: Viewer, asked: Question) -> HitGroup:
    """Find tests of a day or a kind, or one test by its key."""
    rows = Test.objects.filter(tests_selectors.build_test_visibility(viewer))
    if asked.days is None and not asked.kind:
        rows = rows.filter(key=asked.words[0].lower())
    else:
        rows = rows.filter(_match_words(asked.rest, "device__tag", "device__place", "device__design__title"))
    if asked.kind:
        rows = rows.filter(kind=asked.kind)
    if asked.days is not None:
        begin, end = (_find_midnight(day) for day in (asked.days.first, asked.days.last + timedelta(days=1)))
        measured = Q(measured_on__range=(asked.days.first, asked.days.last))
        rows = rows.filter(measured | Q(recorded_at__gte=begin, recorded_at__lt=end))
    columns = ("key", "kind", "device__tag", "measured_on")
    found, total = _read_first(rows.order_by("-recorded_at", "-key"), *columns)
    hits = tuple(
        Hit("test", key, f"{kind.replace('_', ' ').capitalize()} of {tag}", _write_day(day))
        for key, kind, tag, day in found
    )
    return HitGroup("test", hits, total)


def _find_parts(asked: Question) -> HitGroup:
    """Find cores and conductors of the reference data."""
    words = [word.lower() for word in asked.words]
    cores = [
        Hit("core", row.part, row.name, row.part)
        for row in reference.list_cores()
        if all(word in f"{row.name} {row.part}".lower() for word in words)
    ]
    conductors = [
        Hit("conductor", row.name, row.name, "" if row.outer_mm is None else f"{row.outer_mm:g} mm")
        for row in reference.list_conductors()
        if all(word in row.name.lower() for word in words)
    ]
    found = (*cores, *conductors)
    return HitGroup("part", found[:MOST_HITS], len(found))


def _read_first(rows: QuerySet[Any, Any], *columns: str) -> tuple[list[tuple[Any, ...]], int]:
    """Read the first hits, and how many there are in all, in one query whatever their number."""
    counted = rows.annotate(total=Window(Count("*"))).values_list(*columns, "total")
    found = list(counted[:MOST_HITS])
    return [row[:-1] for row in found], found[0][-1] if found else 0


def _find_midnight(day: date) -> datetime:
    """Find the moment at which a day begins where the group is."""
    return timezone.make_aware(datetime.combine(day, time.min))


def _write_day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
