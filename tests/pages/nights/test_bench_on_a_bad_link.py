"""In a browser on a phone: the bench view when the connection drops, and the camera reading a label."""

from __future__ import annotations

import pytest

from measurements.selectors.tests import tests
from measurements.services.accounts import accounts
from tests.browsing import PHONE
from tests.pages import evening
from tests.pages.evening import CHOKE, Evening

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
FILE = {"name": "g1.s2p", "mimeType": "text/plain", "buffer": CHOKE}

# a camera without a camera: a drawn picture as its stream, and a reader that finds one code in it
CAMERA = """
window.BarcodeDetector = class {
  static getSupportedFormats() { return Promise.resolve(["qr_code"]); }
  detect() { return Promise.resolve([{ rawValue: "%s" }]); }
};
const drawn = document.createElement("canvas");
const brush = drawn.getContext("2d");
setInterval(() => brush.fillRect(Math.random() * 100, 10, 5, 5), 50); // a still picture makes no stream
navigator.mediaDevices.getUserMedia = async () => drawn.captureStream(5);
"""


@pytest.fixture
def on(reference_data: None) -> Evening:
    return evening.begin(jig=False)


@pytest.fixture
def bench(page, on: Evening):
    """The page of the guest's device on the bench, signed in, on a phone."""
    page.set_viewport_size(PHONE)
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name=on.operator.name)}/")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    page.goto(f"{on.address}bench/?device={on.guests_device}")
    return page


def stored_of(on: Evening) -> int:
    return len(tests.list_tests(on.operator, device=on.guests_device).results)


def store(page) -> None:
    page.set_input_files("#file_sweep", FILE)
    page.get_by_role("button", name="Store and judge").click()


def overflow(page) -> int:
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def test_a_request_that_never_left_is_sent_again_with_the_same_content(bench, on: Evening):
    tries = []

    def drop_first(route):
        tries.append(route.request.method)
        if len(tries) == 1:
            route.abort("connectionfailed")
        else:
            route.continue_()

    bench.route("**/bench/", drop_first)
    store(bench)
    bench.get_by_text("The connection dropped.").wait_for()
    assert bench.get_by_text("kept on this page").is_visible()
    assert bench.locator("#file_sweep").evaluate("input => input.files.length") == 1
    bench.get_by_role("button", name="Try now").click()
    bench.locator(".outcome").wait_for()
    assert len(tries) == 2 and stored_of(on) == 1
    assert overflow(bench) <= 0


def test_an_answer_that_was_lost_makes_no_second_test(bench, on: Evening):
    """The server stored the test, the phone never heard of it."""
    tries = []

    def lose_first_answer(route):
        tries.append(route.request.method)
        answer = route.fetch()
        if len(tries) == 1:
            assert answer.status == 200
            route.abort("connectionreset")
        else:
            route.fulfill(response=answer)

    bench.route("**/bench/", lose_first_answer)
    store(bench)
    bench.get_by_text("The connection dropped.").wait_for()
    assert stored_of(on) == 1
    bench.get_by_text("this very sweep was stored before").wait_for()
    assert len(tries) == 2 and stored_of(on) == 1


def test_without_a_network_the_page_waits_and_goes_on_by_itself(bench, on: Evening):
    bench.context.set_offline(True)
    store(bench)
    bench.get_by_text("The connection dropped.").wait_for()
    assert stored_of(on) == 0
    bench.context.set_offline(False)
    bench.locator(".outcome").wait_for()
    assert stored_of(on) == 1
    assert bench.evaluate("document.activeElement.tagName") == "H2"
    bench.get_by_role("link", name="Next device").click()
    bench.get_by_role("heading", name="Which device?").wait_for()
    bench.get_by_label("Tag on the device").fill("a-1")
    bench.keyboard.press("Enter")
    bench.get_by_role("heading", name="A-1", exact=True).wait_for()


def test_a_busy_proxy_is_asked_again(bench, on: Evening):
    tries = []

    def busy_first(route):
        tries.append(1)
        if len(tries) == 1:
            route.fulfill(status=503, body="busy")
        else:
            route.continue_()

    bench.route("**/bench/", busy_first)
    store(bench)
    bench.locator(".outcome").wait_for()
    assert len(tries) == 2 and stored_of(on) == 1


def test_signed_out_meanwhile_says_so_and_goes_on_after_signing_in_again(bench, on: Evening):
    bench.context.clear_cookies(name="session")
    store(bench)
    bench.get_by_text("You are signed out.").wait_for()
    assert stored_of(on) == 0
    other = bench.context.new_page()
    other.goto(f"/sign-in/{accounts.issue_sign_in_link(name=on.operator.name)}/")
    other.get_by_role("button", name="Sign in").click()
    other.get_by_role("heading", name=on.operator.name).wait_for()
    bench.get_by_role("button", name="Store and judge").click()
    bench.locator(".outcome").wait_for()
    assert stored_of(on) == 1


def test_a_refused_file_is_marked_and_the_rest_of_the_form_stays(bench, on: Evening):
    bench.set_input_files("#file_sweep", {**FILE, "buffer": b"# MHz S RI R 50\n1 0 0 nonsense\n"})
    bench.get_by_role("button", name="Store and judge").click()
    bench.locator("#fault_sweep").wait_for()
    assert "(line 2)" in bench.locator("#fault_sweep").inner_text()
    file = bench.locator("#file_sweep")
    assert file.get_attribute("aria-invalid") == "true"
    assert file.get_attribute("aria-describedby") == "file_sweep_help fault_sweep"
    assert bench.evaluate("'summary' in document.activeElement.dataset")
    bench.locator("[data-summary] a").click()
    assert bench.evaluate("document.activeElement.id") == "file_sweep"
    store(bench)
    bench.locator(".outcome").wait_for()
    assert stored_of(on) == 1
    assert file.get_attribute("aria-describedby") == "file_sweep_help"


def test_the_camera_reads_a_label_where_the_browser_can(bench, on: Evening):
    bench.add_init_script(CAMERA % f"https://bench.example/bench/{on.members_device}/")
    bench.goto(f"{on.address}bench/")
    bench.get_by_role("button", name="Scan its label").click()
    bench.get_by_role("heading", name="A-1", exact=True).wait_for()


def test_without_a_code_reader_no_camera_is_offered(bench, on: Evening):
    bench.add_init_script("delete window.BarcodeDetector;")
    bench.goto(f"{on.address}bench/")
    bench.get_by_label("Tag on the device").wait_for()
    assert not bench.get_by_role("button", name="Scan its label").is_visible()
