"""Tokens and the site's session: who is taken for whom, and the command that prints a token."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth import get_user_model
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from knox.crypto import hash_token

from api.models import AccessToken
from deploy import security
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.services.accounts import access_tokens
from tests import factories
from tests.api.scene import BASE


@pytest.fixture
def browser(scene) -> Client:
    """The owner, signed in on the site."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(get_user_model().objects.get(pk=scene.viewers["owner"].member_id))
    return client


class TestTokens:
    def test_there_is_one_table_of_them(self, scene):
        from django.db import connection

        assert [name for name in connection.introspection.table_names() if "token" in name] == [
            "api_accesstoken"
        ]

    def test_only_a_hash_is_kept(self, scene):
        token = access_tokens.issue_token(name="Ada", days=3, label="bench")
        kept = AccessToken.objects.get(label="bench")
        assert kept.digest == hash_token(token) and token not in (kept.digest, kept.token_key)
        assert kept.expiry - timezone.now() == pytest.approx(timedelta(days=3), abs=timedelta(minutes=1))

    def test_an_expired_one(self, scene):
        AccessToken.objects.update(expiry=timezone.now() - timedelta(seconds=1))
        assert scene.ask("owner", "GET", "devices/").status_code == 401
        assert AccessToken.objects.exists()  # reading deletes nothing

    def test_a_revoked_one(self, scene):
        AccessToken.objects.filter(label="owner").delete()
        assert scene.ask("owner", "GET", "").status_code == 401

    def test_of_a_suspended_account(self, scene):
        get_user_model().objects.filter(name="Ada").update(is_active=False)
        assert scene.ask("owner", "GET", "").status_code == 401

    @pytest.mark.parametrize("scheme", ["Token", "token", "TOKEN", "Bearer", "bearer", "BEARER"])
    def test_both_schemes_mean_the_same_in_any_case(self, scene, scheme):
        """RFC 9110, 11.1: the name of a scheme has no case; RFC 6750, 2.1: Bearer."""
        headers = {"Authorization": f"{scheme} {scene.tokens['owner']}"}
        assert scene.ask("anonymous", "GET", "devices/", headers=headers).json()["results"]
        own = scene.ask("owner", "GET", "evidence/").json()["results"]
        assert scene.ask("anonymous", "GET", "evidence/", headers=headers).json()["results"] == own

    @pytest.mark.parametrize(
        "path", ["", "bands/", "evidence/?format=csv", "designs/", "schema/", "devices/", "no/"]
    )
    @pytest.mark.parametrize(
        ("header", "code"),
        [
            ("Basic QWRhOnNlY3JldA==", "sign_in.unknown_scheme"),
            ("Digest username=Ada", "sign_in.unknown_scheme"),
            ("{token}", "sign_in.unknown_scheme"),
            ("", "sign_in.unknown_scheme"),
            ("Bearer: {token}", "sign_in.unknown_scheme"),
            ("Bearer", "sign_in.bad_token"),
            ("Bearer ", "sign_in.bad_token"),
            ("Bearer {token} {token}", "sign_in.bad_token"),
            ("Bearer {token}x", "sign_in.bad_token"),
            ("Bearer {token}, Bearer {token}", "sign_in.bad_token"),
            ("Token \u00e9", "sign_in.bad_token"),
        ],
    )
    def test_any_other_header_never_gets_the_publics_answer(self, scene, path, header, code):
        headers = {"Authorization": header.format(token=scene.tokens["owner"])}
        reply = scene.ask("anonymous", "GET", path, headers=headers)
        assert (reply.status_code, reply.json()["code"]) == (401, code)
        assert reply["WWW-Authenticate"] == "Token, Bearer"

    def test_a_session_does_not_stand_in_for_a_bad_header(self, browser):
        reply = browser.get(f"{BASE}devices/", headers={"Authorization": "Basic QWRhOnNlY3JldA=="})
        assert reply.status_code == 401

    def test_one_token_costs_one_look(self, scene, django_assert_num_queries):
        for number in range(5):
            access_tokens.issue_token(name="Ada", days=1, label=str(number))
        # the token with its account, its first use of the day and its line in the digest, the limit
        with django_assert_num_queries(5):
            scene.ask("owner", "GET", "no/such/place/")
        with django_assert_num_queries(2):
            scene.ask("owner", "GET", "no/such/place/")

    def test_the_day_of_its_last_use_is_kept(self, scene):
        kept = AccessToken.objects.get(label="owner")
        assert kept.last_used_on is None
        scene.ask("owner", "GET", "")
        kept.refresh_from_db()
        assert kept.last_used_on == timezone.now().date()

    def test_one_for_reading_stores_nothing_and_computes(self, scene):
        scene.tokens["plotting"] = access_tokens.issue_token(name="Ada", days=1, scope="read")
        sent = {"design": scene.popular, "tag": "new"}
        reply = scene.ask("plotting", "POST", "devices/", json=sent)
        assert (reply.status_code, reply.json()["code"]) == (403, "token.read_only")
        assert scene.ask("plotting", "DELETE", f"tests/{scene.test}/").status_code == 403
        assert scene.ask("plotting", "GET", f"tests/{scene.test}/").status_code == 200
        form = {"kind": "common_mode", "sweep": factories.choke_s2p()}
        assert scene.ask("plotting", "POST", "analyse/", form=form).status_code == 200
        del scene.tokens["plotting"]

    @pytest.mark.parametrize(
        ("named", "code"),
        [
            ({"name": "nobody", "days": 1}, "token.unknown_member"),
            ({"name": "Ada", "days": 0}, "token.days"),
            ({"name": "Ada", "days": 99_999}, "token.days"),
            ({"name": "Ada", "days": 1, "label": "x" * 65}, "token.label"),
            ({"name": "Ada", "days": 1, "label": "a\nb"}, "token.label"),
            ({"name": "Ada", "days": 1, "scope": "admin"}, "token.scope"),
            ({"name": "Ada", "days": 1, "by": Viewer(1, "Nils", "steward")}, "token.not_yours"),
        ],
    )
    def test_refused(self, scene, named, code):
        with pytest.raises(BenchnightError) as caught:
            access_tokens.issue_token(**named)
        assert caught.value.code == code

    def test_not_without_end(self, scene, monkeypatch):
        monkeypatch.setattr(access_tokens, "MOST_TOKENS", 1)
        with pytest.raises(BenchnightError, match="revoke one"):
            access_tokens.issue_token(name="Ada", days=1)


class TestCommand:
    def test_the_token_and_nothing_else(self, scene, capsys):
        call_command("token", "Ada", "--days", "2", "--label", "script")
        printed = capsys.readouterr()
        assert printed.err == "" and printed.out.count("\n") == 1
        scene.tokens["printed"] = printed.out.strip()
        assert scene.ask("printed", "GET", "devices/").json()["results"]
        del scene.tokens["printed"]

    def test_for_reading_only(self, scene, capsys):
        call_command("token", "Ada", "--scope", "read", "--label", "plot")
        assert AccessToken.objects.get(label="plot").scope == "read"

    def test_an_unknown_account(self, scene, capsys):
        with pytest.raises(CommandError, match=r"manage\.py member nobody"):
            call_command("token", "nobody")
        assert capsys.readouterr().out == ""


class TestSession:
    def test_a_link_on_the_site_works(self, browser):
        reply = browser.get(f"{BASE}devices/?format=csv", headers={"Accept": "text/html,*/*;q=0.8"})
        assert reply.status_code == 200 and reply["Content-Type"].startswith("text/csv")

    def test_it_reads_and_never_writes(self, browser, scene):
        for method, path in (
            ("POST", "designs/"),
            ("PATCH", f"devices/{scene.device}/"),
            ("DELETE", f"tests/{scene.test}/"),
        ):
            reply = browser.generic(method, BASE + path, data=b"{}", content_type="application/json")
            assert reply.status_code == 401

    def test_replies_are_kept_by_no_cache(self, browser):
        reply = browser.get(f"{BASE}devices/")
        assert reply["Cache-Control"] == "private, no-store"


def test_a_token_sent_in_the_clear_is_refused_and_not_led_on(scene, settings):
    settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_REDIRECT_EXEMPT = security.build_transport_settings(tls=True, proxies=1, hsts="host")[
        "SECURE_REDIRECT_EXEMPT"
    ]
    headers = {"Authorization": f"Token {scene.tokens['owner']}"}
    plain = Client(headers=headers).get(f"{BASE}devices/")
    assert (plain.status_code, plain.json()["code"]) == (403, "request.not_over_tls")
    assert Client(headers=headers).get(f"{BASE}no-such-thing/").status_code == 404
    assert Client(headers=headers).get(f"{BASE}devices/", secure=True).status_code == 200
    assert Client().get("/designs/").status_code == 301
