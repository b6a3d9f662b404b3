"""The ten-minute page with a stopwatch: from the calibration to the verdict in a browser, clicks counted.

The sweeps are invented: a jig with a stray of 0.5 pF, and a choke of R, L and C in parallel (closed forms).
The verdict must be that of the worst point, computed here by itself.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from measurements.pages.guide.topics.bench_pages import FIRST_CHOKE
from measurements.services.accounts import accounts
from tests import factories
from tests.browsing import DESK, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FREQ_HZ = np.linspace(1e6, 30e6, 401)  # as the second of the nine lines says
OMEGA = 2 * np.pi * FREQ_HZ
CLIPS = 1j * OMEGA * 0.5e-12
MOST_CLICKS, MOST_FIELDS, MOST_SECONDS = 8, 8, 60


def write_s2p(z_ohm: np.ndarray) -> bytes:
    """A series impedance between the ports, one direction as a hobby analyser saves it (closed form)."""
    s21 = 100 / (100 + z_ohm)
    rows = [
        f"{f:.0f} {a.real:.7f} {a.imag:.7f} {b.real:.7f} {b.imag:.7f} 0 0 0 0"
        for f, a, b in zip(FREQ_HZ, 1 - s21, s21, strict=True)
    ]
    return "\n".join(["# Hz S RI R 50", *rows]).encode()


CHOKE = 1 / (1 / 6000 + 1 / (1j * OMEGA * 40e-6) + 1j * OMEGA * 1e-12 + CLIPS)
FILES = {
    "Sweep (S21)": write_s2p(CHOKE),
    "Jig closed on itself": write_s2p(np.full(FREQ_HZ.shape, 0.05 + 0j)),
    "Jig with nothing attached": write_s2p(1 / CLIPS),
}


class Stopwatch:
    """Counts what a reader does: links and buttons pressed, fields filled."""

    def __init__(self, page) -> None:
        self.page, self.clicks, self.fields, self.begun = page, 0, 0, time.monotonic()
        page.set_default_timeout(30_000)

    def press(self, role: str, name: str) -> None:
        self.page.get_by_role(role, name=name).first.click()
        self.clicks += 1

    def fill(self, label: str, value: str) -> None:
        self.page.get_by_label(label, exact=True).fill(value)
        self.fields += 1

    def choose(self, label: str, value: str) -> None:
        self.page.get_by_label(label, exact=True).select_option(value)
        self.fields += 1

    def hand_in(self, label: str, content: bytes) -> None:
        name = label.split(" ")[0].lower() + ".s2p"
        sent = {"name": name, "mimeType": "application/octet-stream", "buffer": content}
        self.page.get_by_label(label).first.set_input_files(sent)
        self.fields += 1

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.begun


def overflow(page) -> int:
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_stranger_reads_the_nine_lines_and_has_a_verdict(page, reference_data: None, size: dict[str, int]):
    page.set_viewport_size(size)
    watch = Stopwatch(page)
    page.goto("/guide/")
    watch.press("link", FIRST_CHOKE.title)
    lines = page.locator("ol.prose li")
    assert lines.count() == 9 and "calibrate at the clips" in lines.nth(1).inner_text()
    watch.press("link", "Check the last file alone")
    watch.hand_in("Sweep", FILES["Sweep (S21)"])
    watch.choose("What was tested", "common_mode")
    watch.press("button", "Check it")
    page.locator("#answer").wait_for()
    assert_verdict(page)
    print(f"{size['width']} px: {watch.clicks} clicks, {watch.fields} fields, {watch.seconds:.1f} s of pages")
    assert watch.clicks <= 4 and watch.fields <= 4 and watch.seconds < MOST_SECONDS
    assert overflow(page) <= 0


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_member_uploads_the_three_files_and_has_a_verdict(page, reference_data: None, size: dict[str, int]):
    factories.member("Dora")
    page.set_viewport_size(size)
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name='Dora')}/")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Dora").wait_for()
    page.goto("/guide/first_choke/")
    watch = Stopwatch(page)
    watch.press("link", "Upload the three files")
    watch.press("link", "Common mode")
    for label, content in FILES.items():
        watch.hand_in(label, content)
    watch.fill("Tag", "first")
    watch.choose("Core", "2631803802")
    watch.fill("Turns", "12")
    watch.choose("Was the analyser calibrated?", "true")
    watch.press("button", "Check the result")
    page.get_by_text("checked, not saved yet").wait_for()
    assert_verdict(page)
    print(f"{size['width']} px: {watch.clicks} clicks, {watch.fields} fields, {watch.seconds:.1f} s of pages")
    assert watch.clicks <= MOST_CLICKS and watch.fields <= MOST_FIELDS and watch.seconds < MOST_SECONDS
    assert overflow(page) <= 0


def assert_verdict(page) -> None:
    """The worst point of 40 m: 20 log10 |1 + Z/100| (trade.md 3.1), with its unit on the page."""
    within = (FREQ_HZ >= 7.0e6) & (FREQ_HZ <= 7.3e6)
    raw_db = 20 * np.log10(np.abs(1 + CHOKE / 100))[within].min()
    said = page.locator("body").inner_text()
    assert "40m" in said and f"{raw_db:.0f}." in said, raw_db
    assert "Meets" in said or "meets" in said
