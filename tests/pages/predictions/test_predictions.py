"""The pages of predictions: what to wind, one winding, which core; with a model and without."""

from __future__ import annotations

import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.models import LearnedModel, StagedUpload, SweepFile, Test
from measurements.services.releases import learning, releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group

WISH = "/predict/?band=80m&band=40m&conductor=RG-316&mix=31&mix=52"
WINDING = "/predict/winding/?part=2631803802&stacked=1&turns=12&style=coax"


@pytest.fixture
def anyone(reference_data: None) -> Client:
    """A reader without an account, where nothing was tested yet."""
    return Client()


@pytest.fixture
def taught(group: Group) -> Group:
    learning.learn_models()
    return group


def said(answer) -> str:
    """The words of a page, one blank between them."""
    bare = re.sub(r"<[^>]+>", "", answer.content.decode())
    return html.unescape(" ".join(bare.split()))


def test_the_empty_page_asks_and_says_how_well_it_predicts(anyone: Client):
    page = said(anyone.get("/predict/"))
    assert "Rank what I could wind" in page and "How to ask" in page
    assert "Nothing was learned from a release yet" in page


def test_proposals_come_with_chance_interval_limit_and_cautions(stranger: Client, taught: Group):
    answer = stranger.get(WISH)
    page = said(answer)
    assert "Likeliest to do it" in page and "FT240-31 (61 mm, mix 31)" in page
    assert "very likely" in page and " dB" in page
    assert "Predicted, nobody has built this" in page
    assert "in one layer" in page and "No power rating" in page and "High voltage and heat" in page
    assert "Mix 52: no permeability table of it is at hand" in page
    assert 'data-spec-url="/predict/winding/chart.json?view=rejection&amp;part=26' in answer.content.decode()
    assert (
        "It rests on the maker's table of mix 31, corrected by the evidence of 1 design in release 1" in page
    )


def test_a_core_is_said_with_its_size(stranger: Client, taught: Group):
    # outer and inner diameter and height of the part in fixtures/reference (maker's catalogue)
    assert "The core: 61 × 35.55 × 12.7 mm (outer × inner × height)." in said(stranger.get(WISH))
    page = said(stranger.get("/predict/winding/?part=2631803802&stacked=1&turns=12"))
    assert "Core: outer × inner × height" in page and "61 × 35.55 × 12.7 mm" in page
    assert "FT240-31: 61 × 35.55 × 12.7 mm (2.40 × 1.40 × 0.50 in), mix 31, maker's number 2631803802" in page
    assert "not known: choose a conductor whose size is listed" in page


def test_a_wish_without_a_band_asks_for_one(anyone: Client):
    answer = anyone.get("/predict/?ratio=1%3A1&style=coax")
    assert answer.status_code == 400 and "Choose the bands that it is for, one or more." in said(answer)


def test_a_wish_without_an_answer_says_why(anyone: Client):
    page = said(anyone.get("/predict/?band=630m&mix=61"))
    assert "No core on hand can be predicted" in page and "its table reaches from 1 to 101 MHz only" in page
    assert "windings compared" not in page


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/predict/?band=40m&benchmark_db=90", "Choose a benchmark from 10 to 40 dB."),
        ("/predict/?band=40m&benchmark_db=many", "Choose a benchmark from 10 to 40 dB."),
        ("/predict/?band=41m", "Select a valid choice."),
        ("/predict/winding/", "Choose the core."),
        ("/predict/winding/?part=2631803802&stacked=0", "Count the cores: a whole number from 1 to 200."),
        ("/predict/winding/?part=2631803802&turns=x", "Count the turns: a whole number from 1 to 200."),
        ("/predict/winding/?part=nope&stacked=1&turns=3", "Select a valid choice."),
        ("/predict/winding/?part=5952003821&stacked=1&turns=3", "No permeability table of mix 52"),
        ("/predict/winding/?part=2843000202&stacked=1&turns=3", "Only current chokes and baluns on rings"),
    ],
)
def test_what_cannot_be_answered_is_said_beside_its_field(anyone: Client, address, words):
    answer = anyone.get(address)
    assert answer.status_code == 400 and words in said(answer)


def test_a_winding_has_curves_figures_and_where_the_table_ends(stranger: Client, taught: Group):
    page = said(stranger.get(f"{WINDING}&band=40m&band=630m"))
    assert "Self-resonance" in page and "Stray capacitance" in page
    assert "The maker's table of mix 31 reaches from 0.1 to 124 MHz; outside it nothing is predicted." in page
    assert "Predicted, dB" in page and "One in ten below, dB" in page  # the table behind the charts
    # the group's design is this recipe, with a conductor nobody measured
    assert "Built and tested" in page and "This recipe:" in page and "Released median, dB" in page


@pytest.mark.parametrize("view", ["rejection", "impedance"])
def test_charts_come_as_specification_and_as_picture(anyone: Client, view):
    spec = anyone.get(f"/predict/winding/chart.json?view={view}&{WINDING.split('?')[1]}").json()
    assert "eight in ten" in spec["description"] and spec["width"] == "container"
    picture = anyone.get(f"/predict/winding/chart.svg?view={view}&tone=dark&{WINDING.split('?')[1]}")
    assert picture["Content-Type"].startswith("image/svg+xml") and b"<svg" in picture.content[:200]


def test_what_members_learned_from_the_public_is_not_told(nobody: Client, group: Group):
    """A design of three people: the members' model knows it, the public's does not, and links nowhere."""
    sparse = factories.evidence(3, turns=9)
    releases.make_release()
    learning.learn_models()
    address = WINDING.replace("turns=12", "turns=9")
    assert "Predicted, nobody has built this" in said(nobody.get(address))
    assert sparse not in nobody.get(address).content.decode()


def core(client: Client, data: bytes, **fields):
    return client.post("/predict/core/", {"turns": "8", **fields, "sweep": SimpleUploadedFile("x.s2p", data)})


def test_an_unmarked_core_is_told_and_forgotten(anyone: Client):
    before = Test.objects.count(), SweepFile.objects.count()
    answer = core(anyone, factories.wound_s2p("43"), outer_mm="61", inner_mm="35,55", height_mm="12.7")
    page = said(answer)
    assert "Mix 43, of those with a table" in page and "cannot be ruled out" in page and "ruled out" in page
    assert '<path class="fit-0"' in answer.content.decode()
    assert (Test.objects.count(), SweepFile.objects.count()) == before


def test_where_two_mixes_are_alike_it_says_what_would_decide(anyone: Client):
    page = said(core(anyone, factories.wound_s2p("31", low_hz=14e6)))
    assert "Cannot tell" in page and "What would decide" in page and "would settle it" in page


def test_what_is_wrong_with_a_core_is_said_beside_its_field(anyone: Client):
    for fields, data, words in (
        ({}, b"nothing", "option line"),
        ({"turns": ""}, factories.wound_s2p(), "Count the turns"),
        ({"outer_mm": "wide"}, factories.wound_s2p(), "Give a length in millimetres"),
        ({"outer_mm": "61"}, factories.wound_s2p(), "or none of them"),
    ):
        answer = core(anyone, data, **fields)
        assert answer.status_code == 422 and words in said(answer)


def carried(answer) -> dict[str, str]:
    """What the page sends along of its files."""
    page = markup.read(answer.content)
    return {
        each.attrs["name"]: each.attrs["value"]
        for each in page.all("input")
        if "carried_" in each.attrs["name"]
    }


def test_a_fault_elsewhere_costs_no_file_and_keeps_nothing_on_the_server(anyone: Client):
    refused = core(anyone, factories.wound_s2p("43"), turns="")
    assert refused.status_code == 422 and "Here already: x.s2p" in said(refused)
    along = carried(refused)
    assert set(along) == {"carried_sweep", "carried_name_sweep"}
    told = anyone.post("/predict/core/", {"turns": "8", **along})
    assert told.status_code == 200 and "Mix 43, of those with a table" in said(told)
    assert carried(told) == along  # another size or another count may be asked about
    assert StagedUpload.objects.count() == 0


def test_a_file_at_fault_has_to_be_chosen_again(anyone: Client):
    assert carried(core(anyone, b"nothing")) == {}
    altered = anyone.post("/predict/core/", {"turns": "8", "carried_sweep": "no base 64"})
    assert altered.status_code == 422 and "Choose the file of the sweep" in said(altered)


def test_a_jig_file_can_be_left_out_again(anyone: Client):
    sweeps = {"jig_open": SimpleUploadedFile("open.s2p", factories.wound_s2p("43"))}
    along = carried(core(anyone, factories.wound_s2p("43"), turns="", **sweeps))
    assert along["carried_name_jig_open"] == "open.s2p"
    told = anyone.post("/predict/core/", {"turns": "8", **along, "drop_jig_open": "yes"})
    assert set(carried(told)) == {"carried_sweep", "carried_name_sweep"}


def test_a_file_too_large_to_go_along_is_named(anyone: Client, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 5_000
    refused = core(anyone, factories.wound_s2p("43"), turns="")
    assert carried(
        refused
    ) == {} and "choose these files again, which are too large for the page: x.s2p" in said(refused)


def test_computing_is_limited(anyone: Client, settings):
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 1
    assert anyone.get(WISH).status_code == 200
    refused = anyone.get(WISH)
    assert refused.status_code == 429 and "Wait" in said(refused) and int(refused["Retry-After"]) > 0
    assert anyone.get("/predict/").status_code == 200  # only asking is counted


def test_a_model_that_is_not_better_says_so(stranger: Client, taught: Group):
    model = LearnedModel.objects.get(circle="members")
    errors = {"model_db": 0.9, "physics_db": 0.6, "nearest_db": 2.0, "figures": 12}
    model.validation |= {"better": False, "errors": errors, "coverage": 0.6, "by_mix": {"31": errors}}
    model.save()
    page = said(stranger.get("/predict/"))
    assert "It is not better than the simpler ways here" in page and "the maker's tables alone" in page
    assert "outside 70 to 90 %" in page


def test_the_drawing_of_a_fit_has_figures_to_be_read_by(anyone: Client):
    page = core(anyone, factories.wound_s2p("31", low_hz=14e6)).content.decode()
    assert len(re.findall(r'class="fit-x"', page)) >= 2 and len(re.findall(r'class="fit-y"', page)) >= 2
    titles = [
        each.text for each in markup.read(page.encode()).all("text") if "fit-title" in each.attrs["class"]
    ]
    assert titles == ["|Z|, ohm", "Frequency, MHz"]
    assert 'class="fit-2"' in page and "As swept, ohm" in page
