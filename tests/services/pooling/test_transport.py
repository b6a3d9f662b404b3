"""Which addresses a group asks, and that nothing leads it elsewhere."""

from __future__ import annotations

import http.server
import threading

import pytest

from measurements.errors import BenchnightError
from measurements.services.pooling import transport


@pytest.mark.parametrize(
    "address",
    [
        "https://keeper.example",
        "https://keeper.example:8443/bench/",
        "http://192.168.1.7:8000",
        "http://localhost",
    ],
)
def test_https_or_a_local_network(address):
    assert transport.check_address(f" {address} ") == address.rstrip("/")


@pytest.mark.parametrize(
    "address",
    [
        "http://keeper.example", "http://93.184.216.34", "ftp://keeper.example", "file:///etc/passwd",
        "https://", "keeper.example", "https://a:b@keeper.example", "https://keeper.example/?x=1",
        "https://keeper.example/#x", "https://keeper.example:0", "https://keeper.example:99999",
        "https://" + "k" * 300,
    ],
)  # fmt: skip
def test_anything_else_is_refused(address):
    with pytest.raises(BenchnightError) as refused:
        transport.check_address(address)
    assert refused.value.code == "pool.address"


class _Elsewhere(http.server.BaseHTTPRequestHandler):
    asked: list[str] = []

    def do_GET(self) -> None:
        self.asked.append(self.path)
        self.send_response(302)
        self.send_header("Location", "/elsewhere")
        self.end_headers()

    def log_message(self, *_args: object) -> None:
        """Say nothing."""


def test_no_redirect_is_followed():
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Elsewhere) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        with pytest.raises(BenchnightError) as refused:
            transport.get(f"http://127.0.0.1:{server.server_address[1]}/latest.json")
        server.shutdown()
    assert refused.value.code == "pool.refused" and _Elsewhere.asked == ["/latest.json"]
