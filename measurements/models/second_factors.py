"""Second factors of an account: passkeys, one-time codes of an app, recovery codes."""

from __future__ import annotations

from django.db import models

from measurements.models.accounts import Member
from measurements.models.keys import new_key


class Passkey(models.Model):
    """A WebAuthn credential: the public half of its key; the private one never leaves its device.

    credential: id, public key and model of the authenticator, as WebAuthn encodes them.
    sign_count: the highest count that a signature of it carried.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="passkeys")
    label = models.CharField(max_length=40)
    credential_id_sha256 = models.CharField(max_length=64, unique=True)
    credential = models.BinaryField()
    sign_count = models.BigIntegerField(default=0)
    made_at = models.DateTimeField(auto_now_add=True)


class CodeApp(models.Model):
    """The secret that an app makes one-time codes from, encrypted; last_step: newest step that was used."""

    member = models.OneToOneField(Member, on_delete=models.CASCADE, related_name="code_app")
    secret_encrypted = models.TextField()
    last_step = models.BigIntegerField(default=0)
    made_at = models.DateTimeField(auto_now_add=True)


class RecoveryCode(models.Model):
    """A code for the day on which the rest is lost: the row holds its hash and goes with its use."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="recovery_codes")
    code_sha256 = models.CharField(max_length=64, unique=True)
