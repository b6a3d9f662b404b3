"""Stewards invite, give roles, suspend, and end what an account is signed in with; and read the log.

An account is asked for by its name in the query, which no log of the server keeps.
"""

from __future__ import annotations

from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import membership
from measurements.ingest.accounts import LINK_HOURS
from measurements.pages import door, faults, steward_words
from measurements.pages.forms.steward import InviteForm, LogForm, RoleForm
from measurements.queries import audit, members

PAGE_SIZE = 50
DONE = {
    "suspend": "The account is suspended: its sessions and tokens have ended.",
    "unsuspend": "The account is open again. Old sessions and tokens stay ended.",
    "revoke": "Every session, token and unused link of the account has ended.",
    "role": "The role is changed; it counts at once.",
}


def listing(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the accounts. POST: invite somebody; the answer shows the link, once."""
    form = InviteForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            secret = membership.invite(by=viewer, **form.cleaned_data)
        except BenchnightError as error:
            faults.show(form, error)
        else:
            return _link_page(request, " ".join(form.cleaned_data["name"].split()), secret)
    text = request.GET.get("q", "")[:64]
    page = members.listing(viewer, text=text, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    following = urlencode({"q": text, "cursor": page.next_cursor or ""})
    context = {
        "form": form,
        "text": text,
        "rows": [(row, urlencode({"name": row.name})) for row in page.results],
        "next_page": f"?{following}" if page.next_cursor else "",
    }
    return door.render(request, "steward_accounts.html", context, status=422 if form.errors else 200)


def one(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: an account and what can be done with it. POST: do it."""
    row = members.one(viewer, request.GET.get("name", ""))
    form = RoleForm(request.POST if request.POST.get("act") == "role" else None, initial={"role": row.role})
    if request.method == "POST":
        try:
            answer = _acted(request, viewer, row.name, form)
        except BenchnightError as error:
            if error.kind != "conflict":
                raise
            faults.show(form, error) if form.is_bound else messages.warning(request, error.detail)
        else:
            if answer is not None:
                return answer
    context = {"row": row, "form": form, "is_self": row.name == viewer.name}
    faulty = bool(form.is_bound and form.errors) or request.method == "POST"
    return door.render(request, "steward_account.html", context, status=422 if faulty else 200)


def _acted(request: HttpRequest, viewer: Viewer, name: str, form: RoleForm) -> HttpResponse | None:
    act = request.POST.get("act", "")
    if act == "link":
        return _link_page(request, name, membership.new_link(by=viewer, name=name))
    if act == "role":
        if not form.is_valid():
            return None
        membership.change_role(by=viewer, name=name, role=form.cleaned_data["role"])
    else:
        writes = {
            "suspend": membership.suspend,
            "unsuspend": membership.unsuspend,
            "revoke": membership.revoke,
        }
        if act not in writes:
            raise BenchnightError("account.unknown_act", "Choose one of the buttons.")
        writes[act](by=viewer, name=name)
    messages.success(request, DONE[act])
    return HttpResponseRedirect(f"{reverse('pages:steward_account')}?{urlencode({'name': name})}")


def _link_page(request: HttpRequest, name: str, secret: str) -> HttpResponse:
    """The only time that the link is shown: a page that no cache keeps and no reload brings back."""
    link = settings.BENCHNIGHT_SITE.rstrip("/") + reverse("pages:sign_in_link", args=[secret])
    context = {"name": name, "link": link, "hours": LINK_HOURS, "query": urlencode({"name": name})}
    return door.render(request, "steward_link.html", context)


def log(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the audit log, filtered by the address."""
    form = LogForm(request.GET)
    page = None
    if form.is_valid():
        page = audit.listing(viewer, form.wanted, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    following = request.GET.copy()
    if page is not None and page.next_cursor:
        following["cursor"] = page.next_cursor
    context = {
        "form": form,
        "lines": [(row, steward_words.detail(row.detail)) for row in page.results] if page else [],
        "next_page": f"?{following.urlencode()}" if page is not None and page.next_cursor else "",
    }
    return door.render(request, "steward_log.html", context, status=400 if form.errors else 200)
