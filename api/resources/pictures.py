"""Pictures of devices, guests' codes and the stewards' queue: what was on pages alone."""

from __future__ import annotations

from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, replies
from api.http.parsers import Multipart, StrictJson
from api.http.renderers import TABLE_RENDERERS, Raw
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import picture_examples
from api.schema.examples import make_list
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.pictures import (
    Claim,
    ClaimInput,
    Picture,
    PictureForm,
    PictureQuery,
    Review,
    ReviewInput,
    ReviewQuery,
)
from measurements.disclosure import policy
from measurements.errors import BenchnightError
from measurements.selectors.paging import Page
from measurements.selectors.tests import review as review_selectors
from measurements.selectors.tests.review import ReviewRow
from measurements.selectors.upkeep import photos as photos_selectors
from measurements.services.nights import guests
from measurements.services.tests import review as review_services
from measurements.services.upkeep import photo_redrawing
from measurements.services.upkeep import photos as photos_services

TABLES = {"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA}


class PicturesView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    parser_classes = (Multipart,)
    members_only = frozenset({"GET", "HEAD", "POST"})

    @describe_operation(
        "pictures",
        "devices",
        "Pictures of a device",
        "The oldest first, without their bytes.",
        shows=make_list_serializer(Picture, name="Pictures", pages=False),
        media=TABLES,
        example=make_list(picture_examples.PICTURE),
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return replies.render_rows(request, Picture, photos_selectors.list_photos(self.viewer, id))

    @describe_operation(
        "add_picture",
        "devices",
        "Add a picture",
        "It is drawn anew, so that neither place nor time nor camera goes with it. The same file again "
        "answers 200 with the first.",
        shows=Picture,
        status=201,
        also={200: Picture},
        takes={"multipart/form-data": PictureForm},
        example=picture_examples.PICTURE,
        refuses=(403, 404),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        texts = parsers.read_texts(request, ("caption",))
        stored = photos_services.add_photo(
            by=self.viewer, device=id, data=_read_picture(request), caption=texts.get("caption", "")
        )
        data = Picture.represent(photos_selectors.get_photo(self.viewer, stored.key))
        where = build_absolute_address(request, "picture", stored.key)
        return Response(data, status=201 if stored.created else 200, headers={"Location": where})


def _read_picture(request: Request) -> bytes:
    """Read the one file of the form. Raises BenchnightError `field.*`, `sweep.too_large`."""
    for name in request.FILES:
        if name != "picture" or len(request.FILES.getlist(name)) > 1:
            raise BenchnightError("field.unknown", "Send one file, in the field picture.", field=name)
    if "picture" not in request.FILES:
        raise BenchnightError("field.required", "Send the picture.", field="picture")
    data: bytes = request.FILES["picture"].read(photo_redrawing.MOST_BYTES + 1)
    return data


class PictureView(ResourceView):
    renderer_classes = (Raw,)
    members_only = frozenset({"GET", "HEAD", "DELETE"})
    words = PictureQuery

    @describe_operation(
        "picture",
        "devices",
        "A picture",
        "Its bytes, as they were drawn anew.",
        shows=None,
        media={"image/jpeg": BINARY_SCHEMA, "image/png": BINARY_SCHEMA, "image/webp": BINARY_SCHEMA},
        words=PictureQuery,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> HttpResponse:
        content, media_type = photos_selectors.get_photo_content(self.viewer, id, self.asked["size"])
        return HttpResponse(
            content,
            content_type=media_type,
            headers={"Content-Security-Policy": replies.PICTURE_POLICY, "Cache-Control": "private, no-cache"},
        )

    @describe_operation(
        "delete_picture",
        "devices",
        "Delete a picture",
        "It is gone at once and cannot be brought back.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> Response:
        photos_services.delete_photo(by=self.viewer, photo=id)
        return Response(status=204)


class ClaimsView(ResourceView):
    parser_classes = (StrictJson,)
    members_only = frozenset({"POST"})

    @describe_operation(
        "claim_devices",
        "devices",
        "Claim a guest's devices",
        "The code of a guest's card makes the guest's devices and tests yours. A few tries an hour.",
        shows=Claim,
        takes={"application/json": ClaimInput},
        sends=picture_examples.CLAIM_INPUT,
        example=picture_examples.CLAIM,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = ClaimInput(data=request.data)
        given.is_valid(raise_exception=True)
        count = guests.claim_guest_devices(by=self.viewer, code=given.validated_data["code"])
        return Response(Claim.represent({"devices": count}))


class ReviewsView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"GET", "HEAD"})
    words = ReviewQuery

    @describe_operation(
        "reviews",
        "tests",
        "The stewards' queue",
        "Tests that a steward should look at, the last recorded first; for stewards.",
        shows=make_list_serializer(Review, name="Reviews"),
        media=TABLES,
        words=ReviewQuery,
        example=make_list(picture_examples.REVIEW),
        refuses=(403,),
        members_only=True,
    )
    def get(self, request: Request) -> HttpResponse:
        def fetch(cursor: str | None, limit: int) -> Page[ReviewRow]:
            return review_selectors.list_reviews(self.viewer, self.asked["state"], cursor=cursor, limit=limit)

        return replies.render_list(request, Review, self.asked, fetch)


class ReviewView(ResourceView):
    parser_classes = (StrictJson,)
    members_only = frozenset({"GET", "HEAD", "POST"})

    @describe_operation(
        "review",
        "tests",
        "A test of the queue",
        "With the flags that ask for a look; for stewards.",
        shows=Review,
        example=picture_examples.REVIEW,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(Review.represent(review_selectors.get_review(self.viewer, id)))

    @describe_operation(
        "decide_review",
        "tests",
        "Decide about a test",
        "Leave it as it is, leave it out of evidence with a reason that its owner reads, or take it back in.",
        shows=Review,
        takes={"application/json": ReviewInput},
        sends=picture_examples.REVIEW_INPUT,
        example=picture_examples.REVIEW,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        policy.check_steward(self.viewer)
        given = ReviewInput(data=request.data)
        given.is_valid(raise_exception=True)
        decision, reason = given.validated_data["decision"], given.validated_data["reason"]
        if decision == "excluded":
            review_services.exclude_test(by=self.viewer, test=id, reason=reason)
        elif decision == "included":
            review_services.include_test(by=self.viewer, test=id)
        else:
            review_services.mark_test_reviewed(by=self.viewer, test=id)
        return Response(Review.represent(review_selectors.get_review(self.viewer, id)))
