"""Every page: its address, its methods, and whether one must be signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.urls import URLPattern, path, re_path
from django.views.decorators.http import require_http_methods

from measurements.pages import door
from measurements.pages.views import (
    account,
    cards,
    claims,
    compare,
    design,
    designs,
    devices,
    explaining,
    guide,
    home,
    intake_mend,
    intakes,
    matches,
    night_bench,
    night_jig,
    night_people,
    nights,
    tests,
    upload,
    upload_checked,
)

app_name = "pages"
READ = ("GET", "HEAD")
FORM = ("GET", "HEAD", "POST")
POST = ("POST",)
KEY = "[a-z0-9]{12}"
NIGHT = f"nights/(?P<key>{KEY})/"
INTAKE = f"{NIGHT}intakes/(?P<intake>{KEY})/"
CHART = r"chart\.(?P<form>json|svg)"


def _page(
    address: str,
    view: Callable[..., HttpResponse],
    name: str,
    methods: tuple[str, ...] = READ,
    *,
    members: bool = False,
) -> URLPattern:
    opened = require_http_methods(list(methods))(door.page(view, members=members))
    if "(?P" in address:
        return re_path(f"^{address}$", opened, name=name)
    return path(address, opened, name=name)


urlpatterns = [
    _page("", home.home, "home"),
    _page("designs/", designs.listing, "designs"),
    _page("designs/compare/", compare.compare, "compare"),
    _page(f"designs/compare/{CHART}", compare.chart, "compare_chart"),
    _page(r"designs/heat\.(?P<form>json|svg)", designs.heat_chart, "heat_chart"),
    _page(f"designs/(?P<key>{KEY})/", design.one, "design"),
    _page(f"designs/(?P<key>{KEY})/{CHART}", design.chart, "design_chart"),
    _page(
        rf"designs/(?P<key>{KEY})/own-chart\.(?P<form>json|svg)",
        design.own_chart,
        "design_own_chart",
        members=True,
    ),
    _page("upload/", upload.upload, "upload", FORM),
    _page("upload/matches/", matches.typed, "upload_matches", members=True),
    _page(r"upload/(?P<draft>[\w-]{12})/", upload_checked.checked, "upload_checked", FORM, members=True),
    _page(rf"upload/(?P<draft>[\w-]{{12}})/{CHART}", upload_checked.chart, "upload_chart", members=True),
    _page(f"tests/(?P<key>{KEY})/", tests.one, "test", members=True),
    _page(f"tests/(?P<key>{KEY})/{CHART}", tests.chart, "test_chart", members=True),
    _page(
        rf"tests/(?P<key>{KEY})/standing\.(?P<form>json|svg)", tests.standing, "test_standing", members=True
    ),
    _page(f"tests/(?P<key>{KEY})/withdraw/", tests.withdraw, "test_withdraw", FORM, members=True),
    _page(f"tests/(?P<key>{KEY})/sweeps/(?P<role>[a-z0-9_]{{1,16}})/", tests.sweep, "sweep", members=True),
    _page("devices/", devices.listing, "devices", members=True),
    _page(f"devices/(?P<key>{KEY})/", devices.one, "device", members=True),
    _page(f"devices/(?P<key>{KEY})/change/", devices.change, "device_change", FORM, members=True),
    _page(f"devices/(?P<key>{KEY})/card/", cards.device_card, "device_card", members=True),
    _page(rf"devices/(?P<key>{KEY})/qr\.svg", cards.qr, "device_qr", members=True),
    _page(f"bench/(?P<key>{KEY})/", night_bench.of_label, "bench_of", members=True),
    _page("claim/", claims.claim, "claim", FORM, members=True),
    _page("nights/", nights.listing, "nights", members=True),
    _page("nights/open/", nights.open_night, "night_open", FORM, members=True),
    _page(f"{NIGHT}", nights.one, "night", members=True),
    _page(f"{NIGHT}change/", nights.change, "night_change", FORM, members=True),
    _page(f"{NIGHT}close/", nights.close, "night_close", FORM, members=True),
    _page(f"{NIGHT}people/", night_people.people, "night_people", POST, members=True),
    _page(f"{NIGHT}devices/", night_people.device, "night_device", FORM, members=True),
    _page(f"{NIGHT}jig/", night_jig.jig, "night_jig", FORM, members=True),
    _page(rf"{NIGHT}jig/{CHART}", night_jig.chart, "night_jig_chart", members=True),
    _page(f"{NIGHT}bench/", night_bench.bench, "night_bench", FORM, members=True),
    _page(f"{NIGHT}cards/", cards.night_cards, "night_cards", FORM, members=True),
    _page(f"{NIGHT}labels/", cards.labels, "night_labels", members=True),
    _page(f"{NIGHT}intake/", intakes.hand_in_page, "night_intake", FORM, members=True),
    _page(rf"{NIGHT}manifest\.csv", intakes.template, "night_manifest", FORM, members=True),
    _page(f"{INTAKE}", intakes.one, "intake", members=True),
    _page(rf"{INTAKE}state\.json", intakes.state, "intake_state", members=True),
    _page(rf"{INTAKE}files/(?P<number>\d{{1,4}})/", intake_mend.mend, "intake_file", FORM, members=True),
    _page("account/", account.account, "account", FORM, members=True),
    _page("sign-in/", account.sign_in, "sign_in", FORM),
    _page(r"sign-in/(?P<secret>[\w-]{20,64})/", account.link, "sign_in_link", FORM),
    _page("sign-out/", account.sign_out, "sign_out", POST),
    _page("guide/", guide.overview, "guide"),
    _page("guide/(?P<topic>[a-z_]{1,20})/", guide.topic, "guide_topic"),
    re_path(
        r"^guide/drawings/(?P<slug>[a-z0-9_.]{1,60})\.svg$",
        require_http_methods(list(READ))(guide.drawing),
        name="guide_drawing",
    ),
    _page("data/", explaining.data, "data"),
    _page("look/", explaining.look, "look", POST),
]
