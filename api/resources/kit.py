"""Kit: hand-overs, loans, tables, changes of many devices, labels."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpResponse, HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http.views import ResourceView
from api.resources.devices import render_device
from api.schema import examples, kit_examples
from api.schema.operations import BINARY_SCHEMA, describe_operation, make_list_serializer
from api.serializers import kit as shown
from api.serializers.devices import Device as DeviceShown
from measurements.charts import label_sheets
from measurements.charts.label_sheets import PrintedLabel
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.kit import hands
from measurements.services.devices import label_codes
from measurements.services.kit import handovers, kit_changes, kit_tables, loans


class OffersView(ResourceView):
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "offers",
        "kit",
        "Devices offered to you",
        "Devices that wait for your yes; of a kit keeper also those that are offered to the group.",
        shows=make_list_serializer(shown.Offer, name="Offers", pages=False),
        example={"results": [kit_examples.OFFER], "next": None, "total": 1},
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        rows = [shown.Offer.represent(row) for row in hands.list_offers(self.viewer)]
        return Response({"results": rows, "next": None, "total": len(rows)})


class OfferView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "answer_offer",
        "kit",
        "Take a device over, or decline it",
        "Its tests stay the votes of the person who had it first.",
        shows=None,
        status=204,
        takes={"application/json": shown.OfferAnswer},
        sends={"yes": True},
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        given = _read(shown.OfferAnswer, request)
        handovers.answer_offer(by=self.viewer, offer=id, yes=given["yes"])
        return Response(status=204)


class DeviceOfferView(ResourceView):
    members_only = frozenset({"POST", "DELETE"})

    @describe_operation(
        "offer_device",
        "kit",
        "Hand a device over",
        "To the group or to an account, which says yes. The answer is the same whether or not there is such "
        "an account. A keeper's own device becomes the group's at once.",
        shows=None,
        status=204,
        takes={"application/json": shown.OfferInput},
        sends={"to_group": True},
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        handovers.offer_device(by=self.viewer, device=id, **_read(shown.OfferInput, request))
        return Response(status=204)

    @describe_operation(
        "keep_device",
        "kit",
        "Take an offer back",
        "The device stays with its owner.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> Response:
        handovers.take_offer_back(by=self.viewer, device=id)
        return Response(status=204)


class LoansView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "POST"})

    @describe_operation(
        "loans",
        "kit",
        "Loans of a device",
        "The newest first, at most 100.",
        shows=make_list_serializer(shown.Loan, name="Loans", pages=False),
        example={"results": [kit_examples.LOAN], "next": None, "total": 1},
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        rows = [shown.Loan.represent(row) for row in hands.list_loans(self.viewer, id)]
        return Response({"results": rows, "next": None, "total": len(rows)})

    @describe_operation(
        "lend_device",
        "kit",
        "Lend a device",
        "Notes who has it since when. Owner and evidence stay as they are.",
        shows=shown.Loan,
        status=201,
        takes={"application/json": shown.LoanInput},
        sends={"borrower": "Gwenna", "lent_on": "2026-05-14"},
        example=kit_examples.LOAN,
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        loans.lend_device(by=self.viewer, device=id, **_read(shown.LoanInput, request))
        return Response(shown.Loan.represent(hands.list_loans(self.viewer, id)[0]), status=201)


class ReturnView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "return_device",
        "kit",
        "Note that a device is back",
        "Ends the loan on the day given, today by default. Owner and evidence stay as they are.",
        shows=DeviceShown,
        takes={"application/json": shown.ReturnInput},
        sends={"returned_on": "2026-05-20"},
        example=examples.DEVICE,
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        loans.return_device(by=self.viewer, device=id, **_read(shown.ReturnInput, request))
        return render_device(devices_selectors.get_device(self.viewer, id))


class KitTableView(ResourceView):
    members_only = frozenset({"POST"})
    takes_recipes = True

    @describe_operation(
        "kit_table",
        "kit",
        "Register and change devices by a CSV",
        "Without `fingerprint` it shows the difference and writes nothing; with the fingerprint of that "
        "difference it writes exactly it, all or nothing. A column that is missing stays as it is. "
        "`devices/?format=csv` has the columns. Each fault names line and column.",
        shows=shown.TableDifference,
        takes={"application/json": shown.TableInput},
        sends={"table": "tag,kind,place\nK-1,choke,Hill site\n"},
        example=kit_examples.DIFFERENCE,
        refuses=(403, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = _read(shown.TableInput, request)
        fingerprint = given.pop("fingerprint", None)
        plan = kit_tables.plan_table(
            by=self.viewer, text=given["table"], of_group=given.get("of_group", False)
        )
        kit_tables.check_plan(plan)
        change = None
        if fingerprint is not None:
            change, _ = kit_tables.apply_table(
                by=self.viewer,
                text=given["table"],
                fingerprint=fingerprint,
                of_group=given.get("of_group", False),
            )
        rows = [
            {"line": row.line, "id": row.key or None, "tag": row.tag, "changes": row.changes}
            for row in plan.rows
        ]
        return Response({"rows": rows, "same": plan.same, "fingerprint": plan.fingerprint, "change": change})


class KitChangesView(ResourceView):
    members_only = frozenset({"POST"})
    takes_recipes = True

    @describe_operation(
        "change_kit",
        "kit",
        "Change many devices in one step",
        "Place, retired since, or marked as due; all devices or none. The answer's key undoes it.",
        shows=shown.BulkChange,
        takes={"application/json": shown.BulkInput},
        sends={"devices": [examples.DEVICE["id"]], "place": "Hill site"},
        example={"change": "c7c7c7c7c7c7", "devices": 1},
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = _read(shown.BulkInput, request)
        chosen = given.pop("devices")
        key, count = kit_changes.change_devices(by=self.viewer, chosen=chosen, changes=given)
        return Response({"change": key or None, "devices": count})


class KitUndoView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "undo_kit",
        "kit",
        "Undo a step over many devices",
        "Each device gets back what it had, where nobody changed that since.",
        shows=shown.UndoneChange,
        example={"undone": 1, "kept": []},
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        done = kit_changes.undo_change(by=self.viewer, change=id)
        return Response({"undone": done.undone, "kept": list(done.kept)})


class LabelsView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "labels",
        "kit",
        "Labels of devices, as PDF",
        "A4 or letter sheets, or one label a page for 62 mm tape. The code on each is a plain address, which "
        "a phone's own camera opens.",
        shows=None,
        media={"application/pdf": BINARY_SCHEMA},
        takes={"application/json": shown.LabelInput},
        sends={"devices": [examples.DEVICE["id"]], "paper": "tape62"},
        refuses=(404,),
        members_only=True,
    )
    def post(self, request: Request) -> HttpResponseBase:
        given = _read(shown.LabelInput, request)
        rows = [devices_selectors.get_device_on_bench(self.viewer, key) for key in given["devices"]]
        labels = [
            PrintedLabel(
                f"{settings.BENCHNIGHT_SITE.rstrip('/')}/bench/{row.key}/",
                row.key,
                row.tag,
                row.design_title if row.design else "",
            )
            for row in rows
        ]
        content = label_sheets.draw_label_pdf(labels, paper=given.get("paper", "a4"))
        return HttpResponse(content, content_type="application/pdf")


class BlankLabelsView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "blank_labels",
        "kit",
        "Codes for blank labels",
        "Print them as addresses `/bench/CODE/`. Each is bound once, to the device that it is put on.",
        shows=shown.BlankLabels,
        status=201,
        takes={"application/json": shown.BlankLabelInput},
        sends={"count": 1},
        example={"codes": ["b7b7b7b7b7b7"]},
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        codes = label_codes.make_blank_codes(by=self.viewer, **_read(shown.BlankLabelInput, request))
        return Response({"codes": codes}, status=201)


class LabelView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "bind_label",
        "kit",
        "Put a blank label on a device",
        "The label leads to this device for good.",
        shows=DeviceShown,
        takes={"application/json": shown.LabelBinding},
        sends={"device": examples.DEVICE["id"]},
        example=examples.DEVICE,
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        given = _read(shown.LabelBinding, request)
        label_codes.bind_code(by=self.viewer, code=id, device=given["device"])
        return render_device(devices_selectors.get_device(self.viewer, given["device"]))


def _read(serializer: type[Any], request: Request) -> dict[str, Any]:
    given = serializer(data=request.data)
    given.is_valid(raise_exception=True)
    return dict(given.validated_data)
