"""The pages of the guide that belong to no kind of test, in the order in which they are listed."""

from __future__ import annotations

from measurements.pages.guide.topics.antenna_pages import AFTER_STORM, COMMISSIONING, FEED_LINE, OPENING
from measurements.pages.guide.topics.bench_pages import CALIBRATING, COMPARING, FIRST_CHOKE
from measurements.pages.guide.topics.check_standard import CHECK_STANDARD
from measurements.pages.guide.topics.guide_page import GuidePage
from measurements.pages.guide.topics.ratio_pages import FOUR_TO_ONE, WHICH_TEST, WINDING_49
from measurements.pages.guide.topics.trusting import TRUSTING
from measurements.pages.guide.topics.words import WORDS

GUIDE_PAGES: tuple[GuidePage, ...] = (
    FIRST_CHOKE,
    CALIBRATING,
    AFTER_STORM,
    FEED_LINE,
    OPENING,
    COMMISSIONING,
    CHECK_STANDARD,
    COMPARING,
    WINDING_49,
    FOUR_TO_ONE,
    WHICH_TEST,
    TRUSTING,
    WORDS,
)
PAGES_BY_SLUG = {page.slug: page for page in GUIDE_PAGES}
