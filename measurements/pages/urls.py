"""Every page: its address, its methods, and whether one must be signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.urls import URLPattern, path, re_path
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from measurements.pages.accounts import factor_views, reauthentication, second_sign_in
from measurements.pages.accounts import views as accounts_views
from measurements.pages.analysers import views as analysers_views
from measurements.pages.bundles import views as bundles_views
from measurements.pages.check import views as check_views
from measurements.pages.check_standards import views as check_standards_views
from measurements.pages.data import views as data_views
from measurements.pages.designs import compare_views, watch_views
from measurements.pages.designs import views as designs_views
from measurements.pages.devices import card_views, list_views
from measurements.pages.devices import views as devices_views
from measurements.pages.find import views as find_views
from measurements.pages.guide import views as guide_views
from measurements.pages.intakes import views as intakes_views
from measurements.pages.kit import device_views, label_views, table_views
from measurements.pages.layout import rendering, throttling
from measurements.pages.lookup import views as lookup_views
from measurements.pages.nights import after_views, bench_views, move_views, people_views
from measurements.pages.nights import views as nights_views
from measurements.pages.pooling import views as pooling_views
from measurements.pages.predictions import identification_views, ratio_views
from measurements.pages.predictions import views as predictions_views
from measurements.pages.search import views as search_views
from measurements.pages.steward import account_views, reference_views, start_views
from measurements.pages.steward import views as steward_views
from measurements.pages.tests import list_views as test_list_views
from measurements.pages.tests import views as tests_views
from measurements.pages.upkeep import calendar_views, due_views, fault_search_views, news_feed
from measurements.pages.upkeep import views as upkeep_views
from measurements.pages.uploads import kept_files
from measurements.pages.uploads import views as uploads_views

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
    drawn: bool = False,
    early: bool = False,
) -> URLPattern:
    """Make the pattern of a page. drawn: a picture or a search; it and pages that are shared count when made.

    early: open to a session that waits for its second factor.
    """
    if shared or drawn:
        view = throttling.limit_drawing(view)
    behind = rendering.wrap_view(view, members=members, stewards=stewards, shared=shared, early=early)
    opened = require_http_methods(list(methods))(behind)
    if "(?P" in address:
        return re_path(f"^{address}$", opened, name=name)
    return path(address, opened, name=name)


def csrf_exempt_page(page: URLPattern) -> URLPattern:
    """Return a page that takes a form without a token: it looks at where the form comes from itself."""
    page.callback = csrf_exempt(page.callback)
    return page


urlpatterns = [
    _page("", find_views.show_home, "home", shared=True),
    _page("designs/", designs_views.show_design_list, "designs", shared=True),
    _page("designs/compare/", compare_views.show_comparison, "compare", shared=True),
    _page(f"designs/compare/{CHART}", compare_views.draw_comparison_chart, "compare_chart", shared=True),
    _page(r"designs/heat\.(?P<form>json|svg)", designs_views.draw_heat_map, "heat_chart", shared=True),
    _page(f"designs/(?P<key>{KEY})/", designs_views.show_design, "design", shared=True),
    _page(f"designs/(?P<key>{KEY})/watch/", watch_views.show_watching, "design_watch", FORM, members=True),
    _page(f"designs/(?P<key>{KEY})/{CHART}", designs_views.draw_design_chart, "design_chart", shared=True),
    _page(
        rf"designs/(?P<key>{KEY})/own-chart\.(?P<form>json|svg)",
        designs_views.draw_own_design_chart,
        "design_own_chart",
        drawn=True,
        members=True,
    ),
    csrf_exempt_page(_page("check/", check_views.show_sweep_check, "check", FORM, shared=True)),
    _page(r"check/kept/(?P<secret>[\w-]{43})/", kept_files.show_kept_files, "check_kept"),
    _page("search/", search_views.show_search, "search", drawn=True),
    _page("lookup/", lookup_views.show_lookup, "lookup"),
    _page("predict/", predictions_views.show_proposals, "predict"),
    _page("predict/ratio/", ratio_views.show_ratio_proposals, "predict_ratio"),
    _page("predict/core/", identification_views.show_core_identification, "predict_core", FORM),
    _page("predict/winding/", predictions_views.show_winding, "predict_winding"),
    _page(
        f"predict/winding/{CHART}", predictions_views.draw_prediction_chart, "prediction_chart", drawn=True
    ),
    _page("account/analysers/", analysers_views.show_analyser_list, "analysers", members=True),
    _page("account/analysers/new/", analysers_views.show_new_analyser, "analyser_new", FORM, members=True),
    _page(
        f"account/analysers/(?P<key>{KEY})/", analysers_views.show_analyser, "analyser", FORM, members=True
    ),
    _page(
        f"account/analysers/(?P<key>{KEY})/checks/",
        analysers_views.show_analyser_checks,
        "analyser_checks",
        FORM,
        members=True,
    ),
    _page("upload/", uploads_views.show_upload, "upload", FORM),
    _page("upload/matches/", uploads_views.show_recipe_matches, "upload_matches", members=True),
    _page(
        r"upload/(?P<draft>[\w-]{12})/",
        uploads_views.show_checked_upload,
        "upload_checked",
        FORM,
        members=True,
    ),
    _page(
        rf"upload/(?P<draft>[\w-]{{12}})/{CHART}",
        uploads_views.draw_upload_chart,
        "upload_chart",
        drawn=True,
        members=True,
    ),
    _page("tests/", test_list_views.show_test_list, "tests", members=True),
    _page(f"tests/(?P<key>{KEY})/", tests_views.show_test, "test", members=True),
    _page(
        f"tests/(?P<key>{KEY})/{CHART}", tests_views.draw_test_chart, "test_chart", drawn=True, members=True
    ),
    _page(
        rf"tests/(?P<key>{KEY})/standing\.(?P<form>json|svg)",
        tests_views.draw_test_comparison_chart,
        "test_standing",
        drawn=True,
        members=True,
    ),
    _page(
        f"tests/(?P<key>{KEY})/withdraw/",
        tests_views.show_test_withdrawal,
        "test_withdraw",
        FORM,
        members=True,
    ),
    _page(f"tests/(?P<key>{KEY})/move/", move_views.show_move_form, "test_move", FORM, members=True),
    _page(f"moves/(?P<key>{KEY})/undo/", move_views.submit_undo, "move_undo", FORM, members=True),
    _page(f"{NIGHT}move/", move_views.submit_person_move, "night_move", POST, members=True),
    _page(
        f"tests/(?P<key>{KEY})/privacy/",
        tests_views.submit_privacy,
        "test_privacy",
        POST,
        members=True,
    ),
    _page(
        f"tests/(?P<key>{KEY})/recipe/",
        tests_views.confirm_recipe,
        "test_confirm_recipe",
        POST,
        members=True,
    ),
    _page(
        f"tests/(?P<key>{KEY})/sweeps/(?P<role>[a-z0-9_]{{1,16}})/",
        tests_views.download_sweep,
        "sweep",
        members=True,
    ),
    _page("devices/", list_views.show_device_list, "devices", members=True),
    _page("devices/board/", list_views.show_board, "board", members=True),
    _page(f"devices/(?P<key>{KEY})/", devices_views.show_device, "device", members=True),
    _page(
        f"devices/(?P<key>{KEY})/access/",
        devices_views.submit_device_access,
        "device_access",
        POST,
        members=True,
    ),
    _page(
        f"devices/(?P<key>{KEY})/change/", devices_views.show_device_form, "device_change", FORM, members=True
    ),
    _page("devices/new/", device_views.show_register_form, "device_new", FORM, members=True),
    _page("devices/kit/", table_views.show_kit, "kit", FORM, members=True),
    _page("devices/kit/table/", table_views.show_table_form, "kit_table", FORM, members=True),
    _page("devices/kit/places/", table_views.show_kit_by_place, "kit_places", members=True),
    _page("devices/kit.csv", table_views.download_kit, "kit_csv", members=True),
    _page(f"devices/(?P<key>{KEY})/hands/", device_views.submit_hands, "device_hands", POST, members=True),
    _page(f"offers/(?P<key>{KEY})/", device_views.submit_offer_answer, "offer_answer", POST, members=True),
    _page("labels/", label_views.show_label_form, "labels", members=True),
    _page("labels/labels.pdf", label_views.download_labels, "labels_pdf", drawn=True, members=True),
    _page("labels/blank/", label_views.print_blank_labels, "labels_blank", POST, members=True),
    _page(f"labels/(?P<key>{KEY})/", label_views.bind_label, "label_bind", POST, members=True),
    _page("devices/due/", due_views.show_due_form, "devices_due", FORM, members=True),
    _page(
        f"devices/(?P<key>{KEY})/commissioning/",
        upkeep_views.show_baseline_choice,
        "baseline",
        FORM,
        members=True,
    ),
    _page(
        rf"devices/(?P<key>{KEY})/trend\.(?P<form>json|svg)",
        upkeep_views.draw_trend_chart,
        "device_trend",
        drawn=True,
        members=True,
    ),
    _page(
        f"devices/(?P<key>{KEY})/inspect/", upkeep_views.show_inspection_form, "inspect", FORM, members=True
    ),
    _page(f"inspections/(?P<key>{KEY})/", upkeep_views.show_inspection, "inspection", FORM, members=True),
    _page(f"devices/(?P<key>{KEY})/pictures/", upkeep_views.show_photo_form, "photo_add", FORM, members=True),
    _page(f"pictures/(?P<key>{KEY})/", upkeep_views.show_photo, "photo", FORM, members=True),
    _page(
        rf"pictures/(?P<key>{KEY})/(?P<size>small|full)\.jpg",
        upkeep_views.download_photo,
        "photo_image",
        members=True,
    ),
    _page(
        f"devices/(?P<key>{KEY})/fault-search/",
        fault_search_views.show_fault_search_start,
        "fault_begin",
        FORM,
        members=True,
    ),
    _page(
        f"fault-searches/(?P<key>{KEY})/",
        fault_search_views.show_fault_search,
        "fault_search",
        FORM,
        members=True,
    ),
    _page(f"devices/(?P<key>{KEY})/report/", devices_views.show_report, "report", members=True),
    _page(
        rf"devices/(?P<key>{KEY})/report\.pdf",
        devices_views.download_report,
        "report_pdf",
        drawn=True,
        members=True,
    ),
    _page("account/calendar/", calendar_views.show_calendar_feeds, "calendar", FORM, members=True),
    _page(r"calendar/(?P<secret>[\w-]{43})\.atom", news_feed.download_news_feed, "news_feed"),
    _page(r"calendar/(?P<secret>[\w-]{43})\.ics", calendar_views.download_calendar, "calendar_feed"),
    _page(f"devices/(?P<key>{KEY})/card/", card_views.show_device_card, "device_card", members=True),
    _page(rf"devices/(?P<key>{KEY})/qr\.svg", card_views.draw_qr_code, "device_qr", members=True),
    _page(
        f"devices/(?P<key>{KEY})/check-standard/",
        check_standards_views.show_mark_form,
        "check_mark",
        FORM,
        members=True,
    ),
    _page("check-standards/", check_standards_views.show_check_standards, "check_standards", members=True),
    _page(
        f"check-standards/(?P<key>{KEY})/",
        check_standards_views.show_check_standard,
        "check_standard",
        FORM,
        members=True,
    ),
    _page(
        f"check-standards/(?P<key>{KEY})/{CHART}",
        check_standards_views.draw_check_chart,
        "check_standard_chart",
        drawn=True,
        members=True,
    ),
    _page(
        f"check-standards/waiting/(?P<key>{KEY})/",
        check_standards_views.show_hold,
        "check_hold",
        FORM,
        members=True,
    ),
    _page(f"bench/(?P<key>{KEY})/", label_views.open_label, "bench_of", members=True),
    _page("claim/", devices_views.show_claim, "claim", FORM, members=True),
    _page("nights/", nights_views.show_night_list, "nights", members=True),
    _page("nights/open/", nights_views.show_new_night, "night_open", FORM, members=True),
    _page(f"{NIGHT}", nights_views.show_night, "night", members=True),
    _page(f"{NIGHT}change/", nights_views.show_night_form, "night_change", FORM, members=True),
    _page(f"{NIGHT}close/", nights_views.show_night_closing, "night_close", FORM, members=True),
    _page(f"{NIGHT}mine/", after_views.show_own_evening, "night_mine", members=True),
    _page(f"{NIGHT}summary/", after_views.show_night_summary, "night_summary", members=True),
    _page("after/", after_views.show_evening_by_code, "after", FORM),
    _page(f"{NIGHT}people/", people_views.show_people, "night_people", POST, members=True),
    _page(f"{NIGHT}devices/", people_views.show_night_device_form, "night_device", FORM, members=True),
    _page(f"{NIGHT}jig/", nights_views.show_jig, "night_jig", FORM, members=True),
    _page(rf"{NIGHT}jig/{CHART}", nights_views.draw_jig_chart, "night_jig_chart", drawn=True, members=True),
    _page(f"{NIGHT}bench/", bench_views.show_bench, "night_bench", FORM, members=True),
    _page(f"{NIGHT}cards/", card_views.show_night_cards, "night_cards", FORM, members=True),
    _page(f"{NIGHT}labels/", card_views.show_labels, "night_labels", members=True),
    _page(f"{NIGHT}intake/", intakes_views.show_intake_form, "night_intake", FORM, members=True),
    _page(rf"{NIGHT}manifest\.csv", intakes_views.download_manifest, "night_manifest", FORM, members=True),
    _page(
        f"{NIGHT}bundle/",
        reauthentication.require_fresh_proof(bundles_views.download_night_bundle),
        "night_bundle",
        POST,
        members=True,
    ),
    _page("bundles/", bundles_views.show_bundles, "bundles", FORM, members=True),
    _page(
        "bundles/group/",
        reauthentication.require_fresh_proof(bundles_views.download_group_bundle),
        "bundle_group",
        POST,
        stewards=True,
    ),
    _page(
        f"bundles/(?P<key>{KEY})/",
        reauthentication.require_fresh_proof(bundles_views.show_bundle),
        "bundle",
        FORM,
        members=True,
    ),
    _page(f"{INTAKE}", intakes_views.show_intake, "intake", FORM, members=True),
    _page(rf"{INTAKE}state\.json", intakes_views.show_intake_state, "intake_state", members=True),
    _page(
        rf"{INTAKE}files/(?P<number>\d{{1,4}})/",
        intakes_views.show_intake_file,
        "intake_file",
        FORM,
        members=True,
    ),
    _page("account/pool/", pooling_views.show_own_choice, "account_pool", FORM, members=True),
    _page("account/", accounts_views.show_account, "account", FORM, members=True),
    _page("account/tokens/", accounts_views.show_tokens, "tokens", FORM, members=True),
    _page(
        "account/tokens/revoke/", accounts_views.submit_token_revocation, "token_revoke", POST, members=True
    ),
    _page(
        "account/second-factor/",
        reauthentication.require_fresh_proof(factor_views.show_second_factor),
        "second_factor",
        FORM,
        members=True,
        early=True,
    ),
    _page(
        "account/second-factor/app/",
        reauthentication.require_fresh_proof(factor_views.show_code_app),
        "second_factor_app",
        FORM,
        members=True,
        early=True,
    ),
    _page(
        "account/second-factor/passkey/",
        reauthentication.require_fresh_proof(factor_views.show_passkey),
        "second_factor_passkey",
        FORM,
        members=True,
        early=True,
    ),
    _page("account/sessions/", accounts_views.show_own_sessions, "own_sessions", FORM, members=True),
    _page(
        "account/copy/",
        reauthentication.require_fresh_proof(accounts_views.download_account_copy),
        "account_copy",
        POST,
        members=True,
    ),
    _page(
        "account/bundle/",
        reauthentication.require_fresh_proof(bundles_views.download_own_bundle),
        "account_bundle",
        POST,
        members=True,
    ),
    _page("account/delete/", accounts_views.show_account_deletion, "account_delete", FORM, members=True),
    _page(
        "account/sign-out-everywhere/",
        accounts_views.sign_out_everywhere,
        "sign_out_everywhere",
        POST,
        members=True,
        early=True,
    ),
    _page("steward/", steward_views.show_steward_overview, "steward", stewards=True),
    _page("steward/start/", start_views.show_start, "steward_start", FORM, stewards=True),
    _page("steward/demo/", start_views.remove_demo, "steward_demo", FORM, stewards=True),
    _page("steward/tests/", steward_views.show_review_queue, "steward_tests", FORM, stewards=True),
    _page(f"steward/tests/(?P<key>{KEY})/", steward_views.show_review, "steward_test", FORM, stewards=True),
    _page("steward/designs/", steward_views.show_merge_candidates, "steward_designs", stewards=True),
    _page("steward/designs/merge/", steward_views.show_design_merge, "steward_merge", FORM, stewards=True),
    _page("steward/cores/", steward_views.show_core_match, "steward_core", FORM, stewards=True),
    _page("steward/bands/", reference_views.show_bands, "steward_bands", FORM, stewards=True),
    _page("steward/limits/", reference_views.show_limits, "steward_limits", FORM, stewards=True),
    _page("steward/conductors/", reference_views.show_conductors, "steward_conductors", FORM, stewards=True),
    _page("steward/settings/", reference_views.show_settings, "steward_settings", FORM, stewards=True),
    _page(
        "steward/accounts/",
        reauthentication.require_fresh_proof(account_views.show_member_list),
        "steward_accounts",
        FORM,
        stewards=True,
    ),
    _page(
        "steward/account/",
        reauthentication.require_fresh_proof(account_views.show_member, acts=account_views.GIVING_ACTS),
        "steward_account",
        FORM,
        stewards=True,
    ),
    _page("steward/pool/", pooling_views.show_steward_pool, "steward_pool", FORM, stewards=True),
    _page("steward/log/", account_views.show_audit_log, "steward_log", stewards=True),
    _page("sign-in/", accounts_views.show_sign_in, "sign_in", FORM, early=True),
    _page("sign-in/second/", second_sign_in.show_second_step, "sign_in_second", FORM, early=True),
    _page(
        r"sign-in/(?P<secret>[\w-]{20,64})/",
        accounts_views.show_sign_in_link,
        "sign_in_link",
        FORM,
        early=True,
    ),
    _page("sign-out/", accounts_views.sign_out, "sign_out", POST, early=True),
    _page("guide/", guide_views.show_guide, "guide", shared=True),
    _page("guide/(?P<topic>[a-z_]{1,20})/", guide_views.show_guide_topic, "guide_topic", shared=True),
    re_path(
        r"^guide/drawings/(?P<slug>[a-z0-9_.]{1,60})\.svg$",
        require_http_methods(list(READ))(guide_views.download_drawing),
        name="guide_drawing",
    ),
    _page("data/", data_views.show_data, "data"),
    # pages that everybody sees alike can hold no token of a session; it sets nothing but a look
    csrf_exempt_page(_page("look/", data_views.choose_theme, "look", POST, early=True)),
]
