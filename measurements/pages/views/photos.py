"""Pictures of a device: adding, looking at, captioning, deleting, and their bytes."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import photo_pixels
from measurements.ingest import photos as register
from measurements.pages import door, faults
from measurements.pages.forms.upkeep import CaptionForm, PhotoForm
from measurements.queries import devices, photos


def add(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: choose a picture. POST: draw it anew and keep it."""
    device = devices.one(viewer, key)
    form = PhotoForm(request.POST, request.FILES) if request.method == "POST" else PhotoForm()
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["photo"]
        try:
            # one byte more than is allowed is enough to refuse it
            register.add(
                by=viewer,
                device=key,
                data=sent.read(photo_pixels.MOST_BYTES + 1),
                caption=form.cleaned_data["caption"],
            )
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            faults.show(form, error)
        else:
            messages.success(request, "The picture is added, without anything but its pixels.")
            return HttpResponseRedirect(f"{reverse('pages:device', kwargs={'key': key})}#photos")
    status = 422 if form.errors else 200
    return door.render(request, "photo_add.html", {"device": device, "form": form}, status=status)


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a picture. POST: another caption, or delete it."""
    photo = photos.one(viewer, key)
    back = f"{reverse('pages:device', kwargs={'key': photo.device})}#photos"
    form = CaptionForm(request.POST or None, initial={"caption": photo.caption})
    if request.method == "POST" and request.POST.get("do") == "delete":
        register.remove(by=viewer, photo=key)
        messages.success(request, "The picture is deleted.")
        return HttpResponseRedirect(back)
    if request.method == "POST" and form.is_valid():
        try:
            register.caption(by=viewer, photo=key, caption=form.cleaned_data["caption"])
        except BenchnightError as error:
            faults.show(form, error)
        else:
            return HttpResponseRedirect(back)
    context = {"photo": photo, "device": devices.one(viewer, photo.device), "form": form}
    return door.render(request, "photo.html", context, status=422 if form.errors else 200)


def image(_request: HttpRequest, viewer: Viewer, key: str, size: str) -> HttpResponse:
    """GET: the bytes of a picture. It was drawn here; still a browser may guess no other type of it."""
    data, media_type = photos.content(viewer, key, size)  # type: ignore[arg-type]  # the address allows two
    response = HttpResponse(data, content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="picture-{key}-{size}.jpg"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; frame-ancestors 'none'; sandbox"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response
