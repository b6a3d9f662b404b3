"""Which addresses a reader's eyes meet, by the page they belong to: the ground of tests over every page.

A new page gets a row in VISITS (who looks at which of its addresses; keys are those of `furnished.House`), or
one in NOT_LOOKED_AT with the reason. A page without either fails `test_axe`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Visit:
    """An address and whose eyes meet it. status: what it answers with."""

    who: str
    address: str
    status: int = 200


def by(who: str, *addresses: str) -> tuple[Visit, ...]:
    """Visits of one reader."""
    return tuple(Visit(who, address) for address in addresses)


VISITS: dict[str, tuple[Visit, ...]] = {
    "home": (
        *by("nobody", "/", "/?band=80m&band=40m", "/?band=6m&ratio=9:1"),
        *by("member", "/?band=80m&band=40m&benchmark_db=25"),
        Visit("nobody", "/?benchmark_db=99", 400),
    ),
    "designs": (
        *by("nobody", "/designs/", "/designs/?design={design}&band=40m&order=devices"),
        *by("member", "/designs/?band=80m&band=40m&mix=31&order=title", "/designs/?turns_min=99"),
        Visit("nobody", "/designs/?turns_min=x", 400),
    ),
    "design": (
        *by("nobody", "/designs/{design}/"),
        *by("member", "/designs/{design}/?band=80m&band=40m&scale=linear", "/designs/{bare}/"),
        *by("steward", "/designs/{other}/?design={design}"),
    ),
    "design_watch": by("member", "/designs/{design}/watch/"),
    "compare": (
        *by("nobody", "/designs/compare/"),
        *by("member", "/designs/compare/?design={design}&design={other}&design={bare}&band=40m&band=30m"),
    ),
    "predict": (
        *by("nobody", "/predict/"),
        *by("member", "/predict/?band=40m&band=20m&conductor=RG-316&mix=31&mix=52"),
        Visit("nobody", "/predict/?band=41m", 400),
    ),
    "predict_winding": (
        *by("member", "/predict/winding/?part=2631803802&stacked=1&turns=12&band=40m&band=10m"),
        Visit("nobody", "/predict/winding/", 400),
    ),
    "predict_ratio": (
        *by("nobody", "/predict/ratio/"),
        *by("member", "/predict/ratio/?band=40m&band=20m&ratio=49:1&mix=43&mix=52&capacitor=best"),
        Visit("nobody", "/predict/ratio/?band=40m&ratio=none", 400),
    ),
    "predict_core": by("nobody", "/predict/core/"),
    "upload": (
        *by("nobody", "/upload/"),
        *by("member", "/upload/", "/upload/?kind=common_mode", "/upload/?kind=insertion_loss&method=pairs"),
        *by("member", "/upload/?kind=load_match&design={design}", "/upload/?kind=balance&device={device}"),
    ),
    "upload_checked": by("member", "/upload/{draft}/"),
    "tests": (
        *by("member", "/tests/", "/tests/?state=counts&order=-measured_on", "/tests/?device={device}"),
        *by("operator", "/tests/?night={night}"),
        *by("steward", "/tests/?kind=common_mode&flag=unmeasured_columns", "/tests/?page=2"),
        Visit("member", "/tests/?kind=none", 400),
    ),
    "test": (
        *by("member", "/tests/{test}/", "/tests/{weak}/"),
        *by("steward", "/tests/{test}/?scale=linear"),
    ),
    "test_withdraw": by("member", "/tests/{test}/withdraw/"),
    "devices": (*by("member", "/devices/"), *by("operator", "/devices/"), *by("steward", "/devices/")),
    "board": (
        *by("member", "/devices/board/"),
        *by("steward", "/devices/board/?by=owner", "/devices/board/?by=month&state=untested&place=-"),
    ),
    "device": (*by("member", "/devices/{device}/"), *by("steward", "/devices/{brought}/")),
    "device_new": (*by("member", "/devices/new/"), *by("steward", "/devices/new/?code=222222222222")),
    "kit": (*by("member", "/devices/kit/"), *by("steward", "/devices/kit/?retired=yes&owner=group")),
    "kit_table": by("member", "/devices/kit/table/"),
    "kit_places": (*by("member", "/devices/kit/places/"), *by("steward", "/devices/kit/places/")),
    "labels": by("member", "/labels/"),
    "device_change": by("member", "/devices/{device}/change/"),
    "devices_due": (*by("operator", "/devices/due/"), *by("steward", "/devices/due/?q=nowhere")),
    "baseline": by("member", "/devices/{device}/commissioning/"),
    "inspect": by("member", "/devices/{device}/inspect/"),
    "inspection": by("member", "/inspections/{inspection}/"),
    "photo_add": by("member", "/devices/{device}/pictures/"),
    "photo": by("member", "/pictures/{photo}/"),
    "fault_begin": by("member", "/devices/{device}/fault-search/"),
    "fault_search": by("member", "/fault-searches/{search}/", "/fault-searches/{ended}/"),
    "report": by("member", "/devices/{device}/report/"),
    "analysers": by("member", "/account/analysers/"),
    "analyser_new": by("member", "/account/analysers/new/"),
    "analyser": by("member", "/account/analysers/{analyser}/"),
    "analyser_checks": by("member", "/account/analysers/{analyser}/checks/"),
    "calendar": by("member", "/account/calendar/"),
    "device_card": (*by("member", "/devices/{device}/card/"), *by("steward", "/devices/{brought}/card/")),
    "claim": by("member", "/claim/"),
    "nights": (*by("operator", "/nights/"), *by("steward", "/nights/")),
    "night_open": by("operator", "/nights/open/"),
    "night": by("operator", "/nights/{night}/", "/nights/{checked}/"),
    "test_move": by("member", "/tests/{test}/move/"),
    "move_undo": by("member", "/moves/nosuchmove12/undo/"),
    "night_mine": (Visit("operator", "/nights/{night}/mine/", 404),),
    "night_summary": by("operator", "/nights/{night}/summary/"),
    "after": by("nobody", "/after/"),
    "check_mark": by("operator", "/devices/{own}/check-standard/"),
    "check_standards": (*by("operator", "/check-standards/"), *by("steward", "/check-standards/")),
    "check_standard": by("operator", "/check-standards/{standard}/", "/check-standards/{standard}/?band=20m"),
    "check_hold": by("operator", "/check-standards/waiting/{hold}/"),
    "night_change": by("operator", "/nights/{night}/change/"),
    "bundles": (*by("operator", "/bundles/"), *by("steward", "/bundles/")),
    "bundle": by("operator", "/bundles/{bundle}/"),
    "night_close": by("operator", "/nights/{night}/close/"),
    "night_device": by("operator", "/nights/{night}/devices/"),
    "night_jig": by("operator", "/nights/{night}/jig/"),
    "night_bench": by("operator", "/nights/{night}/bench/", "/nights/{night}/bench/?device={brought}"),
    "night_cards": by("operator", "/nights/{night}/cards/"),
    "night_labels": by("operator", "/nights/{night}/labels/"),
    "night_intake": by("operator", "/nights/{night}/intake/"),
    "intake": by("operator", "/nights/{night}/intakes/{intake}/"),
    "intake_file": by("operator", "/nights/{night}/intakes/{intake}/files/1/"),
    "account": (*by("member", "/account/"), *by("steward", "/account/")),
    "account_pool": by("member", "/account/pool/"),
    "account_delete": by("member", "/account/delete/"),
    "second_factor": by("member", "/account/second-factor/"),
    "second_factor_app": by("member", "/account/second-factor/app/"),
    "own_sessions": by("member", "/account/sessions/"),
    "tokens": by("member", "/account/tokens/"),
    "steward": by("steward", "/steward/"),
    "steward_tests": by("steward", "/steward/tests/", "/steward/tests/?which=all"),
    "steward_test": by("steward", "/steward/tests/{weak}/"),
    "steward_designs": by("steward", "/steward/designs/"),
    "steward_merge": by(
        "steward", "/steward/designs/merge/", "/steward/designs/merge/?design={design}&into={other}"
    ),
    "steward_core": by(
        "steward", "/steward/cores/?shape=toroid&mix=31&outer_mm=62.0&inner_mm=35.55&height_mm=12.7"
    ),
    "steward_bands": by("steward", "/steward/bands/", "/steward/bands/?band=40m"),
    "steward_limits": by("steward", "/steward/limits/"),
    "steward_conductors": by("steward", "/steward/conductors/"),
    "steward_settings": by("steward", "/steward/settings/"),
    "steward_start": by("steward", "/steward/start/"),
    "steward_demo": by("steward", "/steward/demo/"),
    "steward_accounts": by("steward", "/steward/accounts/"),
    "steward_account": by("steward", "/steward/account/?name=person-0"),
    "steward_pool": by("steward", "/steward/pool/"),
    "steward_log": by("steward", "/steward/log/"),
    "sign_in": by("nobody", "/sign-in/"),
    "sign_in_link": by("nobody", "/sign-in/abcdefghijklmnopqrstuvwx/"),
    "check": (*by("nobody", "/check/"), *by("member", "/check/")),
    "check_kept": (Visit("nobody", f"/check/kept/{'x' * 43}/", 404),),
    "search": (
        *by("nobody", "/search/", "/search/?q=12t+coax"),
        *by("member", "/search/?q=C-77", "/search/?q=yesterday"),
        *by("operator", "/search/?q=May+bench"),
        *by("steward", "/search/?q=person", "/search/?q=nothing+of+this"),
    ),
    "lookup": (
        *by("nobody", "/lookup/", "/lookup/?q=12t+coax+FT240-31+dust"),
        *by("member", "/lookup/?q=9t+FT240-43+bifilar"),
    ),
    "guide": by("nobody", "/guide/"),
    "guide_topic": by(
        "nobody",
        "/guide/common_mode/",
        "/guide/load_match/",
        "/guide/insertion_loss/",
        "/guide/balance/",
        "/guide/in_situ/",
        "/guide/dc/",
        "/guide/first_choke/",
        "/guide/commissioning/",
        "/guide/check_standard/",
        "/guide/bench/",
        "/guide/flags/",
        "/guide/service/",
    ),
    "data": (*by("nobody", "/data/"), *by("member", "/data/")),
}
# not of the table of pages, and seen all the same
OTHERS = (Visit("nobody", "/no/such/page/", 404), Visit("member", "/tests/222222222222/", 404))

PICTURE = "a chart or picture by itself; the page that shows it has its words and figures"
ONLY_SENDS = "answers a form and shows nothing of its own"
FILE = "a file to be saved"
NOT_LOOKED_AT: dict[str, str] = {
    "compare_chart": PICTURE,
    "heat_chart": PICTURE,
    "design_chart": PICTURE,
    "prediction_chart": PICTURE,
    "design_own_chart": PICTURE,
    "device_hands": ONLY_SENDS,
    "offer_answer": ONLY_SENDS,
    "labels_blank": "answers with a PDF, or with the page `labels`",
    "label_bind": ONLY_SENDS,
    "kit_csv": FILE,
    "labels_pdf": FILE,
    "upload_matches": "a fragment of the upload form, looked at in that page",
    "upload_chart": PICTURE,
    "test_chart": PICTURE,
    "test_standing": PICTURE,
    "sweep": FILE,
    "device_qr": PICTURE,
    "device_trend": PICTURE,
    "photo_image": PICTURE,
    "report_pdf": FILE,
    "calendar_feed": FILE,
    "news_feed": FILE,
    "bench_of": "leads on to the bench of the night that is open",
    "night_people": ONLY_SENDS,
    "night_bundle": FILE,
    "bundle_group": FILE,
    "account_bundle": FILE,
    "night_move": ONLY_SENDS,
    "device_access": ONLY_SENDS,
    "test_confirm_recipe": ONLY_SENDS,
    "test_privacy": ONLY_SENDS,
    "night_jig_chart": PICTURE,
    "check_standard_chart": PICTURE,
    "night_manifest": FILE,
    "intake_state": "figures for the script of the intake page",
    "second_factor_passkey": "needs https; tests/pages/accounts/test_passkeys_in_a_browser.py looks at it",
    "sign_in_second": "needs a first factor; tests/pages/accounts/test_passkeys_in_a_browser.py looks at it",
    "token_revoke": ONLY_SENDS,
    "account_copy": FILE,
    "sign_out_everywhere": ONLY_SENDS,
    "sign_out": ONLY_SENDS,
    "guide_drawing": PICTURE,
    "look": ONLY_SENDS,
}
