"""Every page: its address, its methods, and whether one must be signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.urls import URLPattern, path, re_path
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from measurements.pages import door
from measurements.pages.views import (
    account,
    account_care,
    baselines,
    calendar,
    cards,
    claims,
    compare,
    design,
    designs,
    devices,
    due,
    explaining,
    fault_searches,
    guide,
    home,
    identify,
    inspections,
    intake_mend,
    intakes,
    matches,
    night_bench,
    night_jig,
    night_people,
    nights,
    own_sessions,
    photos,
    predict,
    reports,
    steward,
    steward_accounts,
    steward_designs,
    steward_reference,
    tests,
    tokens,
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
    stewards: bool = False,
    shared: bool = False,
) -> URLPattern:
    behind = door.page(view, members=members, stewards=stewards, shared=shared)
    opened = require_http_methods(list(methods))(behind)
    if "(?P" in address:
        return re_path(f"^{address}$", opened, name=name)
    return path(address, opened, name=name)


def csrf_exempt_page(page: URLPattern) -> URLPattern:
    """A page that takes a form without a token: it looks at where the form comes from itself."""
    page.callback = csrf_exempt(page.callback)
    return page


urlpatterns = [
    _page("", home.home, "home", shared=True),
    _page("designs/", designs.listing, "designs", shared=True),
    _page("designs/compare/", compare.compare, "compare", shared=True),
    _page(f"designs/compare/{CHART}", compare.chart, "compare_chart", shared=True),
    _page(r"designs/heat\.(?P<form>json|svg)", designs.heat_chart, "heat_chart", shared=True),
    _page(f"designs/(?P<key>{KEY})/", design.one, "design", shared=True),
    _page(f"designs/(?P<key>{KEY})/{CHART}", design.chart, "design_chart", shared=True),
    _page(
        rf"designs/(?P<key>{KEY})/own-chart\.(?P<form>json|svg)",
        design.own_chart,
        "design_own_chart",
        members=True,
    ),
    _page("predict/", predict.wish, "predict"),
    _page("predict/core/", identify.core, "predict_core", FORM),
    _page("predict/winding/", predict.one, "predict_winding"),
    _page(f"predict/winding/{CHART}", predict.chart, "prediction_chart"),
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
    _page("devices/due/", due.mark, "devices_due", FORM, members=True),
    _page(f"devices/(?P<key>{KEY})/commissioning/", baselines.choose, "baseline", FORM, members=True),
    _page(
        rf"devices/(?P<key>{KEY})/trend\.(?P<form>json|svg)", baselines.chart, "device_trend", members=True
    ),
    _page(f"devices/(?P<key>{KEY})/inspect/", inspections.inspect, "inspect", FORM, members=True),
    _page(f"inspections/(?P<key>{KEY})/", inspections.one, "inspection", FORM, members=True),
    _page(f"devices/(?P<key>{KEY})/pictures/", photos.add, "photo_add", FORM, members=True),
    _page(f"pictures/(?P<key>{KEY})/", photos.one, "photo", FORM, members=True),
    _page(rf"pictures/(?P<key>{KEY})/(?P<size>small|full)\.jpg", photos.image, "photo_image", members=True),
    _page(f"devices/(?P<key>{KEY})/fault-search/", fault_searches.begin, "fault_begin", FORM, members=True),
    _page(f"fault-searches/(?P<key>{KEY})/", fault_searches.one, "fault_search", FORM, members=True),
    _page(f"devices/(?P<key>{KEY})/report/", reports.page, "report", members=True),
    _page(rf"devices/(?P<key>{KEY})/report\.pdf", reports.pdf, "report_pdf", members=True),
    _page("account/calendar/", calendar.addresses, "calendar", FORM, members=True),
    _page(r"calendar/(?P<secret>[\w-]{43})\.ics", calendar.feed, "calendar_feed"),
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
    _page("account/tokens/", tokens.tokens, "tokens", FORM, members=True),
    _page("account/tokens/revoke/", tokens.revoke, "token_revoke", POST, members=True),
    _page("account/sessions/", own_sessions.own_sessions, "own_sessions", FORM, members=True),
    _page("account/copy/", account_care.copy, "account_copy", POST, members=True),
    _page("account/delete/", account_care.delete, "account_delete", FORM, members=True),
    _page(
        "account/sign-out-everywhere/",
        account_care.sign_out_everywhere,
        "sign_out_everywhere",
        POST,
        members=True,
    ),
    _page("steward/", steward.overview, "steward", stewards=True),
    _page("steward/tests/", steward.queue, "steward_tests", FORM, stewards=True),
    _page(f"steward/tests/(?P<key>{KEY})/", steward.one, "steward_test", FORM, stewards=True),
    _page("steward/designs/", steward_designs.candidates, "steward_designs", stewards=True),
    _page("steward/designs/merge/", steward_designs.merge, "steward_merge", FORM, stewards=True),
    _page("steward/cores/", steward_designs.core, "steward_core", FORM, stewards=True),
    _page("steward/bands/", steward_reference.bands, "steward_bands", FORM, stewards=True),
    _page("steward/limits/", steward_reference.limits, "steward_limits", FORM, stewards=True),
    _page("steward/conductors/", steward_reference.conductor_list, "steward_conductors", FORM, stewards=True),
    _page("steward/settings/", steward_reference.settings, "steward_settings", FORM, stewards=True),
    _page("steward/accounts/", steward_accounts.listing, "steward_accounts", FORM, stewards=True),
    _page("steward/account/", steward_accounts.one, "steward_account", FORM, stewards=True),
    _page("steward/log/", steward_accounts.log, "steward_log", stewards=True),
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
    # pages that everybody sees alike can hold no token of a session; it sets nothing but a look
    csrf_exempt_page(_page("look/", explaining.look, "look", POST)),
]
