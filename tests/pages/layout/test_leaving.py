"""What withdrawing does is said in the same three sentences wherever it is said."""

from __future__ import annotations

import re

from django.test import Client

from deploy.virtualenv import ROOT
from measurements.pages.layout import wording
from tests.pages import markup
from tests.pages.conftest import Group


def test_three_sentences_on_the_pages_and_in_the_readme(owner: Client, group: Group):
    leaving = wording.format_leaving(3)
    assert len(re.findall(r"[.] ?", leaving)) == 3
    for address in ("/data/", f"/tests/{group.test}/withdraw/"):
        assert leaving in markup.words(owner.get(address).content), address
    readme = re.sub(r"\s+", " ", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert leaving.rstrip(".") in readme
