"""The two tables of this door: access tokens, and the replies that repeated requests get again."""

from django.conf import settings
from django.db import models
from knox.models import AbstractAuthToken


class AccessToken(AbstractAuthToken):
    """A token of one account: the row holds its hash and the owner's label.

    `token_key` is its first characters, enough to tell two apart. last_used_on: a day, because a time of
    day would tell when somebody is at the bench.
    """

    class Scope(models.TextChoices):
        READ = "read"
        UPLOAD = "upload"

    label = models.CharField(max_length=64, blank=True)
    scope = models.CharField(max_length=8, choices=Scope, default=Scope.UPLOAD)
    last_used_on = models.DateField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(scope__in=["read", "upload"]), name="token_scope_known")
        ]


class KeptReply(models.Model):
    """What a request with an Idempotency-Key was answered; see `idempotency.py`.

    place_sha256: the address and the key. request_sha256: the content. status: null while the first
    request is at work. location: where the thing stands that was stored; body: the reply, where there is no
    such place.
    """

    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    place_sha256 = models.CharField(max_length=64)
    request_sha256 = models.CharField(max_length=64)
    begun_at = models.DateTimeField()
    status = models.PositiveSmallIntegerField(null=True)
    location = models.CharField(max_length=255, blank=True)
    body = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["member", "place_sha256"], name="kept_reply_once")]
        indexes = [models.Index(fields=["begun_at"], name="kept_reply_age")]
