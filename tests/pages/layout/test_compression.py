"""Pages leave compressed, except where a secret could be found out by the length of a reply.

The attack is BREACH (Gluck, Harris and Prado, 2013): it needs compression, a secret and a reflected word in
one reply.
"""

from __future__ import annotations

import gzip

import pytest
from django.test import Client, RequestFactory

from deploy.compression import may_compress
from deploy.environment import ROOT

GZIP = {"accept-encoding": "gzip"}
WORD = "quixotic"


def is_compressed(reply) -> bool:
    return reply.get("Content-Encoding") == "gzip"


@pytest.mark.parametrize("address", ["/", "/designs/", "/guide/insertion_loss/", f"/lookup/?q={WORD}"])
def test_a_page_for_everybody_is_a_third_of_its_size_at_most(group, address):
    plain = Client().get(address, headers={"accept-encoding": "identity"})
    packed = Client().get(address, headers=GZIP)
    assert not is_compressed(plain)
    assert is_compressed(packed)
    assert "Accept-Encoding" in packed["Vary"]
    assert gzip.decompress(packed.content) == plain.content
    assert 2 * len(packed.content) < len(plain.content)


def test_the_picture_of_a_chart_is_compressed(group):
    assert is_compressed(Client().get(f"/designs/{group.design}/chart.svg", headers=GZIP))


@pytest.mark.parametrize("form", ["svg", "json"])
def test_an_own_chart_is_compressed_and_repeats_nothing_of_its_address(owner, group, form):
    reply = owner.get(f"/tests/{group.test}/chart.{form}?view=rejection&word={WORD}", headers=GZIP)
    assert is_compressed(reply)
    assert WORD.encode() not in gzip.decompress(reply.content)


@pytest.mark.parametrize("address", ["/devices/", "/account/", "/designs/"])
def test_an_own_page_without_words_in_its_address_is_compressed(owner, address):
    assert is_compressed(owner.get(address, headers=GZIP))


@pytest.mark.parametrize("address", [f"/lookup/?q={WORD}", f"/devices/?q={WORD}", "/designs/?mix=31"])
def test_an_own_page_with_words_of_the_address_is_not(owner, address):
    reply = owner.get(address, headers=GZIP)
    assert reply.status_code == 200
    assert not is_compressed(reply)


def test_a_page_that_is_not_there_repeats_its_address_and_is_not(owner):
    assert not is_compressed(owner.get(f"/{WORD}/", headers=GZIP))


def test_a_form_with_a_token_that_repeats_a_word_is_not(group):
    """A visitor has no session, but the token of the form is a secret all the same."""
    visitor = Client()
    for _ in range(2):  # the second time with the cookie of the token
        reply = visitor.get(f"/sign-in/?next=/{WORD}/", headers=GZIP)
        assert b"csrfmiddlewaretoken" in reply.content
        assert not is_compressed(reply)


def test_what_a_form_answers_is_not(owner):
    """Replies to forms repeat what was typed."""
    reply = owner.post("/account/", {"password": WORD}, headers=GZIP)
    assert reply.status_code == 422
    assert not is_compressed(reply)


def test_the_api_and_files_are_sent_as_they_are(group, owner):
    for address in ("/api/v1/designs/", "/devices/kit.csv"):
        assert not is_compressed(owner.get(address, headers=GZIP))


def test_nothing_is_compressed_twice(rf: RequestFactory):
    from django.http import HttpResponse

    from deploy.compression import PageCompressionMiddleware

    body = gzip.compress(b"x" * 5000)
    made = HttpResponse(body, headers={"Content-Encoding": "gzip"})
    asked = rf.get("/", headers=GZIP)
    assert may_compress(asked, made)
    assert PageCompressionMiddleware(lambda _request: made)(asked).content == body


def test_the_proxy_leaves_it_to_the_server():
    assert "    gzip off;" in (ROOT / "deploy" / "nginx.conf").read_text(encoding="utf-8")
