"""QR codes that lead from a card or a label to an address of this site, as SVG of one path.

The code carries the address and nothing else: who scans it without being allowed in learns nothing.
"""

from __future__ import annotations

import segno
from django.conf import settings
from django.urls import reverse

QUIET_MODULES = 4  # ISO/IEC 18004 asks for four modules of quiet around a code


def device_page(key: str) -> str:
    """Absolute address of a device's page, as it stands on its card."""
    return _absolute(reverse("pages:device", kwargs={"key": key}))


def bench(key: str) -> str:
    """Absolute address that opens a device on the bench of the night that is on, as on its label."""
    return _absolute(reverse("pages:bench_of", kwargs={"key": key}))


def svg(address: str) -> str:
    """A black code on white, scalable; error correction M, so that a worn label still reads."""
    code = segno.make(address, error="m", micro=False)
    size = code.symbol_size(border=QUIET_MODULES)[0]
    drawn = code.svg_inline(border=QUIET_MODULES, omitsize=True, light="#fff", svgclass=None, lineclass=None)
    # one unit of the picture is one module; crisp edges keep the modules apart on a coarse printer
    named = (
        f'<svg xmlns="http://www.w3.org/2000/svg" shape-rendering="crispEdges" width="{size}" height="{size}"'
    )
    return drawn.replace("<svg", named, 1)


def _absolute(path: str) -> str:
    return f"{settings.BENCHNIGHT_SITE.rstrip('/')}{path}"
