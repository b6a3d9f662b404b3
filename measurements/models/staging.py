"""Files that a member has shown to the upload page but not yet saved as a test."""

from django.db import models

from measurements.models.keys import new_key
from measurements.models.people import Member


class StagedUpload(models.Model):
    """One file kept for a day between looking at the checked result and saving it."""

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="staged")
    role = models.CharField(max_length=16)
    name = models.CharField(max_length=255)
    raw = models.BinaryField()
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField(db_index=True)
