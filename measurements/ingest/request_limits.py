"""What to say of a request that Django itself refuses for its size: which limit, how to stay within it."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent

MEBIBYTE = 1024 * 1024
TOO_LARGE = (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent)


def sentence(exception: BaseException) -> str:
    """For one of `TOO_LARGE`."""
    if isinstance(exception, TooManyFieldsSent):
        return (
            f"A request has up to {settings.DATA_UPLOAD_MAX_NUMBER_FIELDS} fields or query words. "
            "Send it in parts."
        )
    if isinstance(exception, TooManyFilesSent):
        return f"A request has up to {settings.DATA_UPLOAD_MAX_NUMBER_FILES} files. Send them in parts."
    most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE / MEBIBYTE
    return f"Without its files a request has up to {most:g} MiB. Send less at once, and sweeps as files."
