"""What lines of the log say in a sentence. An action that is not here is shown by its name alone."""

from __future__ import annotations

SENTENCES = {
    "account.add_factor": "{actor} set up a second factor.",
    "account.give_kit": "{actor} made this account a kit keeper.",
    "account.remove_factor": "{actor} removed a second factor.",
    "account.remove_factors": "{actor} took every second factor off this account.",
    "account.renew_recovery_codes": "{actor} made new recovery codes.",
    "account.take_kit": "{actor} took the right to keep kit away.",
    "account.use_recovery_code": "{actor} used a recovery code.",
    "device.change": "{actor} changed fields of the device.",
    "device.clear_due": "{actor} took the mark as due back.",
    "device.decline": "{actor} declined the device that was offered.",
    "device.hand_over": "{actor} took the device over.",
    "device.keep": "{actor} took the offer of the device back.",
    "device.lend": "{actor} noted that the device is lent.",
    "device.mark_due": "{actor} marked the device as due.",
    "device.offer": "{actor} offered the device to somebody else.",
    "device.register": "{actor} registered the device.",
    "device.return": "{actor} noted that the device is back.",
    "device.unregister": "{actor} undid the registration of the device.",
    "feed.make": "{actor} made a calendar address.",
    "feed.revoke": "{actor} revoked a calendar address.",
    "kit.undo": "{actor} undid a step over many devices.",
    "label.bind": "{actor} put a blank label on the device.",
    "label.print_blank": "{actor} made codes for blank labels.",
}


def describe_line(action: str, actor: str) -> str:
    """Return the sentence of a line; "" where the action has none."""
    return SENTENCES.get(action, "").format(actor=actor)
