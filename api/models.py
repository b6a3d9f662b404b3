"""Access tokens: only the hash of a token is kept, with a label that its owner recognises it by."""

from django.db import models
from knox.models import AbstractAuthToken


class AccessToken(AbstractAuthToken):
    """A token of one account. `token_key` is its first characters, enough to tell two apart."""

    label = models.CharField(max_length=64, blank=True)
