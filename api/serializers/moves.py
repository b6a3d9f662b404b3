"""Moves of tests: what is sent, what is shown."""

from __future__ import annotations

from api.http.fields import ReplySerializer, StrictSerializer, TextField, text_field


class TestMoveInput(StrictSerializer):
    """Where a test goes."""

    __test__ = False

    device = TextField(max_length=32, help_text="Key of the device that the test is of.")


class PersonMoveInput(StrictSerializer):
    """Whose tests of a night go to whom."""

    giver = TextField(
        max_length=32, help_text="Key on the night's list of the guest under whom it was stored."
    )
    receiver = TextField(max_length=32, help_text="Key on the night's list of the guest who brought it.")


class Moved(ReplySerializer):
    """A move that was made."""

    move = text_field("Key of the move: `moves/{id}/undo/` takes it back.")


class MoveUndone(ReplySerializer):
    """A move that was taken back."""

    night = text_field("Key of the night of the move; null where it was outside nights.", nullable=True)
