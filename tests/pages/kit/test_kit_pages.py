"""Pages of kit: register, hands, table, places, labels and what a scanned label opens."""

from __future__ import annotations

import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from measurements.models import AuditEntry, Device, DueMark, LabelCode, NightDevice
from measurements.selectors.accounts import viewers
from measurements.services.accounts import membership
from measurements.services.devices import label_codes
from tests import club, factories
from tests.pages.conftest import signed_in

pytestmark = pytest.mark.usefixtures("reference_data")


def at(name: str, **keys: str) -> str:
    return reverse(f"pages:{name}", kwargs=keys)


def text_of(answer) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))


@pytest.fixture
def steward(reference_data):
    return factories.member("Stella", "steward")


@pytest.fixture
def keeper(steward):
    factories.member("Kit")
    membership.set_kit_keeper(by=steward, name="Kit", keeps_kit=True)
    return viewers.find_viewer("Kit")


@pytest.fixture
def ada(reference_data):
    return factories.member("Ada")


def register(client, **given):
    sent = {"tag": "K-1", "kind": "choke", "make": "bought", "origin": "commercial", **given}
    return client.post(at("device_new"), sent)


class TestRegistering:
    def test_a_sealed_device_has_a_page_with_state_history_and_report(self, ada):
        client = signed_in(ada)
        answer = register(client, place="Hill site")
        page = client.get(answer["Location"])
        assert page.status_code == 200
        said = text_of(page)
        assert "Build not known yet" in said and "bought" in said and "Hill site" in said
        key = Device.objects.get().key
        for name in ("report", "report_pdf", "device_card", "inspect", "fault_begin", "device_change"):
            assert client.get(at(name, key=key)).status_code == 200, name
        factories.record(ada, key)
        assert client.get(at("device", key=key)).status_code == 200
        assert client.get(at("test", key=Device.objects.get().tests.get().key)).status_code == 200

    def test_what_was_typed_is_kept_beside_the_fault(self, ada):
        client = signed_in(ada)
        register(client)
        answer = register(client, notes="from the estate of a friend")
        assert answer.status_code == 422
        assert "from the estate of a friend" in text_of(answer) and "already" in text_of(answer)

    def test_only_a_keeper_registers_for_the_group(self, ada, keeper):
        register(signed_in(ada), owner="group")
        assert not Device.objects.get().contributor.is_group
        register(signed_in(keeper), owner="group")
        assert Device.objects.filter(contributor__is_group=True).count() == 1

    def test_the_build_becomes_known_by_its_title(self, ada):
        client = signed_in(ada)
        register(client)
        device = Device.objects.get()
        design = factories.design(ada)
        title = Device._meta.get_field("design").related_model.objects.get(key=design).title
        sent = {"version": device.version, "tag": "K-1", "origin": "commercial", "design": title.upper()}
        assert client.post(at("device_change", key=device.key), sent).status_code == 302
        assert Device.objects.get().design.key == design

    def test_an_upload_of_an_unknown_build_asks_for_its_ratio(self, ada):
        client = signed_in(ada)
        register(client)
        page = client.get(at("upload") + f"?kind=load_match&device={Device.objects.get().key}")
        assert page.status_code == 200


class TestHands:
    def test_lending_returning_and_handing_over(self, ada, keeper):
        key = factories.device(ada)
        client, other = signed_in(ada), signed_in(keeper)
        client.post(at("device_hands", key=key), {"do": "lend", "borrower": "Gwenna"})
        assert "Gwenna" in text_of(client.get(at("device", key=key)))
        client.post(at("device_hands", key=key), {"do": "return"})
        client.post(at("device_hands", key=key), {"do": "offer", "to": "group"})
        page = text_of(other.get(at("devices")))
        assert "Ada hands over C-1 to the group" in " ".join(page.split())
        offer = re.search(r"/offers/([a-z0-9]{12})/", other.get(at("devices")).content.decode())[1]
        assert other.post(at("offer_answer", key=offer), {"answer": "yes"})["Location"] == at(
            "device", key=key
        )
        assert client.get(at("device", key=key)).status_code == 404
        assert "Device of the group" in " ".join(text_of(other.get(at("device", key=key))).split())

    def test_a_steward_makes_a_keeper_on_the_account_page(self, steward, ada):
        client = signed_in(steward)
        address = at("steward_account") + "?name=Ada"
        assert client.post(address, {"act": "give_kit"}).status_code == 302
        assert viewers.find_viewer("Ada").keeps_kit
        client.post(address, {"act": "take_kit"})
        assert not viewers.find_viewer("Ada").keeps_kit

    def test_the_log_says_it_in_sentences(self, steward, ada):
        key = factories.device(ada)
        signed_in(ada).post(at("device_hands", key=key), {"do": "lend", "borrower": "Gwenna"})
        said = text_of(signed_in(steward).get(at("steward_log") + f"?subject={key}"))
        assert "Ada noted that the device is lent." in said and "Gwenna" not in said


class TestTable:
    def test_paste_look_write_and_undo(self, ada):
        client = signed_in(ada)
        sent = {"table": "tag,place\r\nK-1,Shed\r\nK-2,Shed\r\n", "do": "look"}
        page = client.post(at("kit_table"), sent)
        fingerprint = re.search(r'name="fingerprint" value="([^"]+)"', page.content.decode())[1]
        assert "Shed" in text_of(page) and not Device.objects.exists()
        client.post(at("kit_table"), {**sent, "do": "apply", "fingerprint": fingerprint})
        assert Device.objects.filter(place="Shed").count() == 2
        kit = client.get(at("kit"))
        change = re.search(r'name="change" value="([^"]+)"', kit.content.decode())[1]
        client.post(at("kit"), {"do": "undo", "change": change})
        assert not Device.objects.exists()

    def test_nothing_typed_is_lost_and_the_fault_names_line_and_column(self, ada):
        sent = {"table": "tag,built_on\nK-1,yesterday\n", "do": "look"}
        page = signed_in(ada).post(at("kit_table"), sent)
        assert page.status_code == 422
        assert "Line 2, column built_on" in text_of(page) and "K-1,yesterday" in text_of(page)

    def test_a_file_with_a_fault_is_kept_as_text(self, ada):
        file = SimpleUploadedFile("kit.csv", b"tag,colour\nK-1,red\n", "text/csv")
        page = signed_in(ada).post(at("kit_table"), {"file": file, "do": "look"})
        assert page.status_code == 422 and "K-1,red" in text_of(page)

    def test_out_as_csv_and_back_in(self, ada):
        client = signed_in(ada)
        register(client, place="=Hill")
        out = b"".join(client.get(at("kit_csv"))).decode()
        page = client.post(at("kit_table"), {"table": out, "do": "look"})
        assert page.status_code == 200 and "No difference" in text_of(page)

    @pytest.mark.parametrize("which", ["chosen", "all"])
    def test_many_at_once(self, ada, which):
        client = signed_in(ada)
        for number in range(3):
            register(client, tag=f"K-{number}", place="Hill")
        chosen = list(Device.objects.values_list("key", flat=True)[:1])
        sent = {"step": "due", "text": "storm", "which": which, "devices": chosen}
        assert client.post(at("kit") + "?place=Hill", sent).status_code == 302
        assert DueMark.objects.filter(reason="storm").count() == (1 if which == "chosen" else 3)
        assert client.post(at("kit"), {"step": "due", "text": "", "which": "all"}).status_code == 422

    def test_places_are_a_list_with_what_is_due(self, keeper):
        client = signed_in(keeper)
        register(client, owner="group", place="Hill site")
        said = " ".join(text_of(client.get(at("kit_places"))).split())
        assert "Kit of the group by place" in said and "Hill site" in said and "1 device in service" in said

    def test_another_member_sees_none_of_it(self, ada, keeper):
        register(signed_in(keeper), owner="group", place="Zebra-4711", make="Quagga-4711", notes="Okapi-4711")
        client = signed_in(ada)
        for name in ("devices", "kit", "kit_places", "kit_csv", "labels", "account", "calendar", "kit_table"):
            answer = client.get(at(name))
            said = b"".join(answer) if answer.streaming else answer.content
            assert b"4711" not in said, name


class TestCalendar:
    def test_the_groups_feed_lists_the_groups_kit_until_the_right_ends(self, keeper, steward, ada):
        client = signed_in(keeper)
        register(client, owner="group", tag="GROUP-1", make="Quagga-4711", place="Zebra-4711")
        register(client, owner="own", tag="OWN-1")
        page = client.post(at("calendar"), {"do": "make", "label": "shed", "of_group": "yes"})
        address = re.search(r'class="secret">http://testserver([^<]+)<', page.content.decode())[1]
        feed = client.get(address).content.decode()
        assert "GROUP-1" in feed and "OWN-1" not in feed and "4711" not in feed
        membership.set_kit_keeper(by=steward, name="Kit", keeps_kit=False)
        assert client.get(address).status_code == 404

    def test_who_keeps_no_kit_gets_the_own_devices(self, ada, keeper):
        register(signed_in(keeper), owner="group", tag="GROUP-1")
        client = signed_in(ada)
        page = client.post(at("calendar"), {"do": "make", "label": "", "of_group": "yes"})
        address = re.search(r'class="secret">http://testserver([^<]+)<', page.content.decode())[1]
        assert "GROUP-1" not in client.get(address).content.decode()


class TestLabels:
    def test_labels_of_any_device_on_sheets_and_tape(self, ada):
        key = factories.device(ada)
        client = signed_in(ada)
        for paper in ("a4", "letter", "tape62"):
            answer = client.get(at("labels_pdf") + f"?device={key}&paper={paper}")
            assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
        assert signed_in(factories.member("Bob")).get(at("labels_pdf") + f"?device={key}").status_code == 404

    def test_a_blank_label_asks_for_its_device_and_leads_there_then(self, ada):
        client = signed_in(ada)
        answer = client.post(at("labels_blank"), {"count": "3", "paper": "tape62"})
        assert answer.content.startswith(b"%PDF") and LabelCode.objects.count() == 3
        code = LabelCode.objects.first().code
        page = client.get(at("bench_of", key=code))
        assert page.status_code == 200 and "Which device is it on?" in text_of(page)
        key = factories.device(ada)
        client.post(at("label_bind", key=code), {"device": key})
        assert client.get(at("bench_of", key=code))["Location"] == at("device", key=key)

    def test_a_scan_at_a_night_brings_the_device_in_one_tap(self, ada):
        operator = club.operator()
        night, key = club.night(operator), factories.device(ada)
        (code,) = label_codes.make_blank_codes(by=ada, count=1)
        label_codes.bind_code(by=ada, code=code, device=key)
        client = signed_in(operator)
        page = client.get(at("bench_of", key=code), follow=True)
        assert "Open it" in text_of(page)
        client.post(at("night_bench", key=night), {"label": key})
        assert NightDevice.objects.live().get().device.key == key
        assert f"?device={key}" in client.get(at("bench_of", key=code))["Location"]

    def test_a_blank_label_is_bound_where_a_guest_brings_the_device(self, reference_data):
        operator = club.operator()
        night = club.night(operator)
        (code,) = label_codes.make_blank_codes(by=operator, count=1)
        client = signed_in(operator)
        assert at("night_device", key=night) in client.get(at("bench_of", key=code)).content.decode()
        page = client.get(at("night_device", key=night) + f"?code={code}")
        assert f'value="{code}"' in page.content.decode()
        sent = {
            "tag": "G-1",
            "contributor": "new",
            "name": "Gwenna",
            "design": factories.design(operator),
            "code": code,
        }
        assert client.post(at("night_device", key=night), sent).status_code == 302
        assert LabelCode.objects.get().device.tag == "G-1"

    def test_a_page_of_labels_asks_for_no_picture(self, ada):
        operator = club.operator()
        night = club.night(operator)
        club.guests_device(operator, night, club.guest(operator, night))
        for name in ("night_labels", "night_cards"):
            page = signed_in(operator).get(at(name, key=night)).content.decode()
            assert 'class="qr"' in page and "qr.svg" not in page and "<img" not in page

    def test_making_labels_is_in_the_log(self, ada):
        signed_in(ada).post(at("labels_blank"), {"count": "2"})
        assert AuditEntry.objects.get(action="label.print_blank").detail == {"labels": 2}
