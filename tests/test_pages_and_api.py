"""What a page can do, an address of the API can do: the two lists of routes are compared.

Each page names the addresses that do the same, or the reason why it stays a page alone. A new page without
either fails here. An address that no page names must be in the second table.
"""

from __future__ import annotations

from api import urls as api_urls
from measurements.pages import urls as page_urls

WORDS = "words and furniture for people; a program needs none of it"
FORM_STEP = "a step of a form between two pages; a program sends everything at once"
FRESH_PROOF = "asks for a fresh proof of who is there, which a token cannot give"
SECRET = "opened by the secret in its address; a program reads it as it is"
CHART = "drawn for the page; a program draws the rows that it reads"
LEADS_ON = "leads on to another page"
PRINTED = "a sheet to print for people at the bench"
NOT_YET = "not built yet"

SAME: dict[str, tuple[str, ...] | str] = {
    "home": ("designs",),
    "designs": ("designs",),
    "compare": ("design_evidence", "design_curves"),
    "compare_chart": CHART,
    "heat_chart": CHART,
    "design": ("design", "design_evidence", "design_curves", "pooled_evidence"),
    "design_watch": ("design_watch", "watched_designs"),
    "design_chart": ("design_chart",),
    "design_own_chart": ("test_chart", "design_chart"),
    "check": ("analyse",),
    "check_kept": SECRET,
    "lookup": ("designs", "devices", "tests"),
    "predict": ("predict",),
    "predict_ratio": ("predict_ratio",),
    "predict_core": ("identify",),
    "predict_winding": ("predict",),
    "prediction_chart": ("predict",),
    "analysers": ("analysers",),
    "analyser_new": ("analysers",),
    "analyser": ("analyser",),
    "analyser_checks": ("analyser_checks",),
    "upload": ("analyse", "tests", "folders"),
    "upload_matches": ("designs",),
    "upload_checked": FORM_STEP,
    "upload_chart": ("analyse",),
    "test": ("test",),
    "test_chart": ("test_chart",),
    "test_standing": ("test_comparison",),
    "test_withdraw": ("test",),
    "test_move": ("test_move",),
    "move_undo": ("move_undo",),
    "night_move": ("night_moves",),
    "test_privacy": ("test",),
    "test_confirm_recipe": ("tests",),
    "sweep": ("test_sweep",),
    "devices": ("devices", "band_results"),
    "board": ("devices",),
    "tests": ("tests",),
    "search": ("designs", "devices", "tests"),
    "device": ("device", "device_service"),
    "device_access": NOT_YET,
    "device_change": ("device",),
    "device_new": ("devices",),
    "kit": ("kit",),
    "kit_table": ("kit", "kit_changes", "kit_undo"),
    "kit_places": ("kit",),
    "kit_csv": ("kit",),
    "device_hands": ("device_offers", "device_loans", "device_return"),
    "offer_answer": ("offers", "offer"),
    "labels": ("labels",),
    "labels_pdf": ("labels",),
    "labels_blank": ("blank_labels",),
    "label_bind": ("label",),
    "devices_due": NOT_YET,
    "baseline": NOT_YET,
    "device_trend": CHART,
    "inspect": ("inspections",),
    "inspection": ("inspections",),
    "photo_add": ("pictures",),
    "photo": ("picture",),
    "photo_image": ("picture",),
    "fault_begin": NOT_YET,
    "fault_search": NOT_YET,
    "report": ("device", "device_service", "inspections", "tests"),
    "report_pdf": PRINTED,
    "calendar": "makes a secret that is shown once to whoever is there",
    "news_feed": SECRET,
    "calendar_feed": SECRET,
    "device_card": PRINTED,
    "device_qr": ("labels",),
    "check_mark": ("check_standards",),
    "check_standards": ("check_standards",),
    "check_standard": ("check_standard",),
    "check_standard_chart": CHART,
    "check_hold": ("check_hold", "check_holds"),
    "bench_of": LEADS_ON,
    "claim": ("claims",),
    "nights": ("nights",),
    "night_open": ("nights",),
    "night": ("night",),
    "night_change": ("night",),
    "night_close": ("night",),
    "night_mine": ("tests", "band_results"),
    "night_summary": PRINTED,
    "after": SECRET,
    "night_people": ("night_confirm", "night_join"),
    "night_device": ("devices",),
    "night_jig": ("night_jig",),
    "night_jig_chart": CHART,
    "night_bench": ("tests",),
    "night_cards": PRINTED,
    "night_labels": ("labels",),
    "night_intake": ("night_intake",),
    "night_manifest": "fills a table for people; a program writes its manifest itself",
    "night_bundle": ("night_bundle",),
    "bundles": ("bundles",),
    "bundle_group": FRESH_PROOF,
    "bundle": ("bundle", "bundles"),
    "intake": ("intake",),
    "intake_state": ("intake",),
    "intake_file": ("intake_answers",),
    "account": FRESH_PROOF,
    "tokens": FRESH_PROOF,
    "token_revoke": FRESH_PROOF,
    "second_factor": FRESH_PROOF,
    "second_factor_app": FRESH_PROOF,
    "second_factor_passkey": FRESH_PROOF,
    "own_sessions": FRESH_PROOF,
    "account_copy": FRESH_PROOF,
    "account_bundle": FRESH_PROOF,
    "account_delete": FRESH_PROOF,
    "account_pool": ("pool",),
    "steward_pool": ("pool",),
    "sign_out_everywhere": FRESH_PROOF,
    "steward": ("reviews",),
    "steward_start": "five steps of an empty group, once",
    "steward_demo": "removes the invented group, once",
    "steward_tests": ("reviews",),
    "steward_test": ("review",),
    "steward_designs": FRESH_PROOF,
    "steward_merge": FRESH_PROOF,
    "steward_core": FRESH_PROOF,
    "steward_bands": NOT_YET,
    "steward_limits": NOT_YET,
    "steward_conductors": NOT_YET,
    "steward_settings": NOT_YET,
    "steward_accounts": FRESH_PROOF,
    "steward_account": FRESH_PROOF,
    "steward_log": FRESH_PROOF,
    "sign_in": FRESH_PROOF,
    "sign_in_second": FRESH_PROOF,
    "sign_in_link": SECRET,
    "sign_out": FRESH_PROOF,
    "guide": WORDS,
    "guide_topic": WORDS,
    "guide_drawing": WORDS,
    "data": ("releases", "release", "release_file", "docs"),
    "look": WORDS,
}
# addresses for programs that no page repeats
FOR_PROGRAMS = {
    "index": "lists the addresses",
    "schema": "describes them",
    "bands": "reference data, shown inside pages",
    "benchmarks": "reference data, shown inside pages",
    "mixes": "reference data, shown inside pages",
    "cores": "reference data, shown inside pages",
    "conductors": "reference data, shown inside pages",
    "evidence": "one table of everything; pages show it design by design",
    "latest_release": "leads to the newest release",
    "latest_release_file": "leads to a file of the newest release",
    "release_feed": "read by feed readers",
    "pool_groups": "a group joins the keeper of a pool",
    "pool_sendings": "a group sends its votes to the keeper",
    "pool_latest": "a group looks for the newest pooled release",
    "pool_file": "a group fetches a pooled release",
}
# pages that no address repeats yet: this list may only get shorter
MISSING = {
    "device_access",
    "devices_due",
    "baseline",
    "fault_begin",
    "fault_search",
    "steward_bands",
    "steward_limits",
    "steward_conductors",
    "steward_settings",
}


def test_every_page_names_its_address_or_its_reason():
    assert {pattern.name for pattern in page_urls.urlpatterns} == set(SAME)
    for name, same in SAME.items():
        assert same, name


def test_every_named_address_is_there_and_none_is_left_over():
    there = {pattern.name for pattern in api_urls.urlpatterns if pattern.name}
    named = {address for same in SAME.values() if isinstance(same, tuple) for address in same}
    assert named <= there, named - there
    assert there - named == set(FOR_PROGRAMS), (there - named) ^ set(FOR_PROGRAMS)


def test_what_is_missing_is_listed():
    assert {name for name, same in SAME.items() if same == NOT_YET} == MISSING
