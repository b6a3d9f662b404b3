"""Accounts, one-time sign-in links, and the contributors who own devices."""

from collections.abc import Iterator

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils.crypto import salted_hmac

from measurements.models.keys import new_key


class Member(AbstractBaseUser):
    """An account. Its role decides what it may do; a suspended one (`is_active` off) may nothing."""

    class Role(models.TextChoices):
        MEMBER = "member"
        OPERATOR = "operator"
        STEWARD = "steward"

    name = models.CharField(max_length=64, unique=True)
    role = models.CharField(max_length=10, choices=Role, default=Role.MEMBER)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)
    # a steward let it keep the group's kit: see, edit, lend and hand over the group's devices
    keeps_kit = models.BooleanField(default=False, db_default=False)
    # it chose that its published votes also go to the pool that the group is in
    in_pool = models.BooleanField(default=False, db_default=False)
    # how often all sessions of the account were ended; part of what a session is checked against
    sessions_ended = models.PositiveIntegerField(default=0, db_default=0)

    objects = BaseUserManager()

    USERNAME_FIELD = "name"
    REQUIRED_FIELDS: list[str] = []

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role__in=["member", "operator", "steward"]), name="member_role_known"
            )
        ]

    def get_session_auth_hash(self) -> str:
        """Return the hash that a session is checked against.

        Django's own takes the password alone; here a session also ends when `sessions_ended` rises.
        """
        return self.compute_session_hash(secret=None)

    def get_session_auth_fallback_hash(self) -> Iterator[str]:
        """Yield the same under the secret keys of before."""
        for secret in settings.SECRET_KEY_FALLBACKS:
            yield self.compute_session_hash(secret=secret)

    def compute_session_hash(self, *, secret: str | None) -> str:
        """Return the hash under a secret key; None: the one in use."""
        content = f"{self.password}|{self.sessions_ended}"
        return salted_hmac("measurements.session", content, secret=secret, algorithm="sha256").hexdigest()


class SignInLink(models.Model):
    """A one-time link: the row holds only the hash of its secret.

    made_on_server: a command made it. It opens the account without the second factor, so that whoever runs
    the server always gets in.
    """

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="links")
    secret_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    made_on_server = models.BooleanField(default=False, db_default=False)


class Contributor(models.Model):
    """Whoever owns a device: a member, the group, or a guest known only to the operator and the stewards.

    is_group: the one row that owns the group's kit. A row without account, name and this stays for the votes
    of devices that a leaver had handed over before.

    `key` identifies the person in the private ledger of published votes, also after the account
    is gone; it never leaves the server.

    confirmed_at, confirmed_by: a steward confirmed that this guest came. person: key that several
    contributors share where a steward said that they are one person; empty for a person of its own key.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    member = models.OneToOneField(Member, null=True, on_delete=models.SET_NULL, related_name="contributor")
    guest_name = models.CharField(max_length=64, blank=True)
    confirmed_at = models.DateTimeField(null=True)
    confirmed_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    person = models.CharField(max_length=12, blank=True, default="", db_index=True)
    is_group = models.BooleanField(default=False, db_default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["is_group"], condition=models.Q(is_group=True), name="contributor_one_group"
            )
        ]

    @property
    def is_guest(self) -> bool:
        """Say whether it is somebody without an account, and not the group."""
        return self.member_id is None and not self.is_group
