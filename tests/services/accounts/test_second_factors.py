"""Codes of an app, recovery codes and passkeys: each counts once, and none is stored readable."""

from __future__ import annotations

import base64
import hashlib
import json
import struct

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from django.core.management import call_command
from fido2.cose import ES256
from fido2.webauthn import Aaguid, AttestationObject, AttestedCredentialData, AuthenticatorData

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, CodeApp, Passkey, RecoveryCode
from measurements.services.accounts import (
    accounts,
    factor_secrets,
    membership,
    one_time_codes,
    passkeys,
    recovery_codes,
    second_factors,
)
from tests import factories

pytestmark = pytest.mark.django_db

# RFC 6238, appendix B: secret, seconds, code of eight digits; six digits are its last six (RFC 4226, 5.3)
SECRET = b"12345678901234567890"
VECTORS = (
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
)


def at(monkeypatch: pytest.MonkeyPatch, seconds: float) -> None:
    monkeypatch.setattr("measurements.services.accounts.one_time_codes.time.time", lambda: seconds)


@pytest.fixture
def ben():
    return factories.member("Ben")


def with_app(viewer, monkeypatch) -> None:
    """An app with the RFC's secret, confirmed long before its vectors."""
    at(monkeypatch, 300)
    CodeApp.objects.create(member_id=viewer.member_id, secret_encrypted=factor_secrets.encrypt(SECRET))


@pytest.mark.parametrize(("seconds", "code"), VECTORS)
def test_codes_are_those_of_the_standard(ben, monkeypatch, seconds, code):
    with_app(ben, monkeypatch)
    at(monkeypatch, seconds)
    assert not one_time_codes.use_code(member_id=ben.member_id, code="000000")
    assert one_time_codes.use_code(member_id=ben.member_id, code=f"{code[2:5]} {code[5:]}")
    assert not one_time_codes.use_code(member_id=ben.member_id, code=code[2:]), "a code is good once"


def test_a_code_lives_for_its_half_minute_and_the_next(ben, monkeypatch):
    for late, good in ((29, True), (59, True), (60, False), (-30, False)):
        CodeApp.objects.all().delete()
        with_app(ben, monkeypatch)
        at(monkeypatch, 1111111110 + late)  # a step begins there
        assert one_time_codes.use_code(member_id=ben.member_id, code="050471") is good, late


def test_an_older_code_is_not_taken_after_a_newer_one(ben, monkeypatch):
    with_app(ben, monkeypatch)
    at(monkeypatch, 1111111111)
    assert one_time_codes.use_code(member_id=ben.member_id, code="050471")
    assert not one_time_codes.use_code(member_id=ben.member_id, code="081804")


def test_an_app_is_stored_only_after_a_right_code_and_never_readable(ben, monkeypatch):
    encrypted = one_time_codes.make_secret()
    with pytest.raises(BenchnightError, match="not right"):
        one_time_codes.add_code_app(by=ben, encrypted=encrypted, code="12345a")
    assert not CodeApp.objects.exists()
    encrypted = factor_secrets.encrypt(SECRET)
    at(monkeypatch, 59)
    one_time_codes.add_code_app(by=ben, encrypted=encrypted, code="287082")
    stored = CodeApp.objects.get().secret_encrypted
    for readable in (SECRET.decode(), base64.b32encode(SECRET).decode(), SECRET.hex()):
        assert readable not in stored
    assert "otpauth://totp/" in one_time_codes.describe_secret(by=ben, encrypted=encrypted).address
    assert not one_time_codes.use_code(member_id=ben.member_id, code="287082"), "the confirming code is used"


def test_a_replaced_secret_key_is_told_and_an_older_one_still_reads(ben, monkeypatch, settings):
    with_app(ben, monkeypatch)
    at(monkeypatch, 59)
    before, settings.SECRET_KEY = settings.SECRET_KEY, "another key of fifty characters and more, for a test"
    with pytest.raises(BenchnightError, match="secret key was replaced"):
        one_time_codes.use_code(member_id=ben.member_id, code="287082")
    settings.SECRET_KEY_FALLBACKS = [before]
    assert one_time_codes.use_code(member_id=ben.member_id, code="287082")


def test_recovery_codes_count_once_are_hashed_and_end_with_new_ones(ben):
    old = recovery_codes.renew_recovery_codes(by=ben)
    assert len(set(old)) == 10 and all(len(code.replace("-", "")) == 28 for code in old)
    assert {row.code_sha256 for row in RecoveryCode.objects.all()}.isdisjoint(old)
    assert not recovery_codes.use_recovery_code(by=factories.member("Ada"), code=old[0])
    second_factors.check_code(by=ben, code=old[0].lower().replace("-", " "))
    with pytest.raises(BenchnightError, match="used already"):
        second_factors.check_code(by=ben, code=old[0])
    recovery_codes.renew_recovery_codes(by=ben)
    with pytest.raises(BenchnightError):
        second_factors.check_code(by=ben, code=old[1])


def test_codes_of_an_account_are_tried_twenty_times_an_hour(ben, monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)
    with_app(ben, monkeypatch)
    codes = []
    for number in range(21):
        with pytest.raises(BenchnightError) as refused:
            second_factors.check_code(by=ben, code=f"{number:06}")
        codes.append(refused.value.code)
    assert codes == ["account.code"] * 20 + ["limit.codes"]


def test_removing_the_last_factor_removes_recovery_codes_and_the_log_names_each_step(ben, monkeypatch):
    with_app(ben, monkeypatch)
    recovery_codes.renew_recovery_codes(by=ben)
    second_factors.remove_code_app(by=ben)
    assert not RecoveryCode.objects.exists() and not second_factors.has_second_factor(ben.member_id)
    with pytest.raises(BenchnightError, match="removed already"):
        second_factors.remove_code_app(by=ben)
    named = set(AuditEntry.objects.values_list("action", flat=True))
    assert {"account.renew_recovery_codes", "account.remove_factor"} <= named


def test_a_steward_takes_factors_off_others_and_the_command_off_anybody(ben, monkeypatch, capsys):
    steward = factories.member("Cleo", "steward")
    for viewer in (ben, steward):
        with_app(viewer, monkeypatch)
    for by, name in ((ben, "Cleo"), (steward, "Cleo"), (steward, "nobody")):
        with pytest.raises(BenchnightError):
            second_factors.remove_all_factors(by=by, name=name)
    assert CodeApp.objects.count() == 2
    assert second_factors.remove_all_factors(by=steward, name="Ben") == 1
    call_command("member", "Cleo", "--remove-factors")
    assert not CodeApp.objects.exists() and "/sign-in/" in capsys.readouterr().out


def test_only_a_link_of_a_command_opens_without_the_second_factor():
    steward = factories.member("Cleo", "steward")
    on_page = membership.invite_member(by=steward, name="Dora", role="member")
    on_server = accounts.issue_sign_in_link(name="Cleo")
    assert accounts.was_link_made_on_server(secret=on_server)
    assert not accounts.was_link_made_on_server(secret=on_page)


# Passkeys: an authenticator written here after the W3C recommendation Web Authentication, level 2: 6.1
# (authenticator data), 6.5.1 (attested credential data), 7.1 and 7.2 (what the server checks).


def to_text(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


class Authenticator:
    def __init__(self) -> None:
        self.private = ec.generate_private_key(ec.SECP256R1())
        self.id, self.count = hashlib.sha256(b"credential").digest(), 0

    def client(self, kind: str, challenge: str, origin: str) -> bytes:
        return json.dumps({"type": f"webauthn.{kind}", "challenge": challenge, "origin": origin}).encode()

    def register(self, options, origin: str) -> str:
        data = AttestedCredentialData.create(
            Aaguid.NONE, self.id, ES256.from_cryptography_key(self.private.public_key())
        )
        host = hashlib.sha256(options["rp"]["id"].encode()).digest()
        authenticator = AuthenticatorData.create(host, 0x41, self.count, bytes(data))
        sent = {
            "clientDataJSON": to_text(self.client("create", options["challenge"], origin)),
            "attestationObject": to_text(bytes(AttestationObject.create("none", authenticator, {}))),
        }
        return self.reply(sent)

    def sign(self, options, origin: str) -> str:
        self.count += 1
        host = hashlib.sha256(options["rpId"].encode()).digest()
        authenticator = host + struct.pack(">BI", 0x01, self.count)
        client = self.client("get", options["challenge"], origin)
        signed = authenticator + hashlib.sha256(client).digest()
        sent = {
            "clientDataJSON": to_text(client),
            "authenticatorData": to_text(authenticator),
            "signature": to_text(self.private.sign(signed, ec.ECDSA(hashes.SHA256()))),
        }
        return self.reply(sent)

    def reply(self, response) -> str:
        given = {"id": to_text(self.id), "rawId": to_text(self.id), "type": "public-key"}
        return json.dumps({**given, "response": response, "clientExtensionResults": {}})


ORIGIN = "https://bench.example"


@pytest.fixture
def key(ben, settings):
    """Ben's passkey."""
    settings.BENCHNIGHT_SITE = ORIGIN
    made = Authenticator()
    options, state = passkeys.begin_registration(by=ben)
    passkeys.add_passkey(by=ben, state=state, reply=made.register(options, ORIGIN), label=" my  phone ")
    return made


def begin(viewer):
    return passkeys.begin_check(member_id=viewer.member_id)


def refuse(viewer, state, reply: str) -> None:
    with pytest.raises(BenchnightError, match="not accepted"):
        passkeys.check_passkey(member_id=viewer.member_id, state=state, reply=reply)


def test_a_passkey_signs_in_and_holds_no_private_half(ben, key):
    row = Passkey.objects.get()
    assert row.label == "my phone" and second_factors.has_second_factor(ben.member_id)
    assert key.private.private_numbers().private_value.to_bytes(32, "big") not in bytes(row.credential)
    for _ in range(2):
        options, state = begin(ben)
        passkeys.check_passkey(member_id=ben.member_id, state=state, reply=key.sign(options, ORIGIN))


def test_a_passkey_of_another_site_account_challenge_or_key_is_refused(ben, key):
    options, state = begin(ben)
    for origin in ("https://bench.example.evil", "http://bench.example", "https://sub.bench.example"):
        refuse(ben, state, key.sign(options, origin))
    refuse(ben, begin(ben)[1], key.sign(options, ORIGIN))  # an older challenge
    refuse(ben, None, key.sign(options, ORIGIN))
    refuse(factories.member("Ada"), state, key.sign(options, ORIGIN))
    stranger = Authenticator()  # the same id, another key
    stranger.count = 50
    refuse(ben, state, stranger.sign(options, ORIGIN))
    for broken in ("", "{", "[]", "{}", json.dumps({"response": 1}), "x" * 20_000):
        refuse(ben, state, broken)


def test_a_count_that_does_not_rise_is_refused(ben, key):
    options, state = begin(ben)
    reply = key.sign(options, ORIGIN)
    passkeys.check_passkey(member_id=ben.member_id, state=state, reply=reply)
    refuse(ben, state, reply)
    key.count = 0
    options, state = begin(ben)
    refuse(ben, state, key.sign(options, ORIGIN))


def test_one_credential_belongs_to_one_account(ben, key):
    other = factories.member("Ada")
    options, state = passkeys.begin_registration(by=other)
    with pytest.raises(BenchnightError, match="not accepted"):
        passkeys.add_passkey(by=other, state=state, reply=key.register(options, ORIGIN), label="phone")
    assert Passkey.objects.count() == 1


@pytest.mark.parametrize(
    ("site", "possible"),
    [
        ("https://bench.example", True),
        ("http://localhost:8000", True),
        ("http://bench.example", False),
        ("http://127.0.0.1:8000", False),
        ("https://192.0.2.7", False),
    ],
)
def test_passkeys_are_offered_where_browsers_make_them(settings, site, possible):
    settings.BENCHNIGHT_SITE = site
    assert passkeys.are_passkeys_possible() is possible
