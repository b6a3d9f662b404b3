"""The second factors of the viewer's own account, without anything that opens it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import CodeApp, Passkey, RecoveryCode


@dataclass(frozen=True)
class PasskeyRow:
    """A passkey. key: for removing it."""

    key: str
    label: str
    made_at: datetime


@dataclass(frozen=True)
class SecondFactors:
    """What the account has. code_app_since: None where there is no app."""

    passkeys: tuple[PasskeyRow, ...]
    code_app_since: datetime | None
    recovery_codes: int

    @property
    def any(self) -> bool:
        """Tell whether there is one at all; recovery codes alone are none."""
        return bool(self.passkeys) or self.code_app_since is not None


def get_second_factors(viewer: Viewer) -> SecondFactors:
    """Get the viewer's own."""
    policy.check_signed_in(viewer)
    own = {"member": viewer.member_id}
    return SecondFactors(
        tuple(
            PasskeyRow(*row)
            for row in Passkey.objects.filter(**own).order_by("pk").values_list("key", "label", "made_at")
        ),
        CodeApp.objects.filter(**own).values_list("made_at", flat=True).first(),
        RecoveryCode.objects.filter(**own).count(),
    )
