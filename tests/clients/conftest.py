"""A group behind a live server, for clients that speak HTTP: its address, a token, things to ask for."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from measurements.services.accounts import access_tokens
from measurements.services.reference import reference_files
from measurements.services.releases import releases
from tests import factories


@dataclass(frozen=True)
class Group:
    """Ada has the device `bench-1` of a design that six people have evidence of."""

    address: str
    token: str
    design: str
    device: str

    @property
    def api(self) -> str:
        return f"{self.address}/api/v1/"


@pytest.fixture
def group(live_server, transactional_db, settings) -> Group:
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = settings.BENCHNIGHT_TOKEN_PER_MINUTE = 10_000
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 10_000
    reference_files.load_reference_data()
    design = factories.evidence(6)
    ada = factories.member("Ada")
    device = factories.device(ada, design, tag="bench-1")
    releases.make_release()
    token = access_tokens.issue_token(name="Ada", days=1, label="script")
    return Group(live_server.url, token, design, device)


@pytest.fixture
def bench(tmp_path, group) -> Path:
    """A folder as a member has it: a sweep, a folder of sweeps named after tags."""
    (tmp_path / "choke.s2p").write_bytes(factories.choke_s2p(2900, seed=501))
    (tmp_path / "sweeps").mkdir()
    for number, tag in enumerate(("bench-1", "bench-2")):
        (tmp_path / "sweeps" / f"{tag}.s2p").write_bytes(factories.choke_s2p(2800, seed=510 + number))
    return tmp_path


def run(command: list[str], place: Path, token: str = "") -> subprocess.CompletedProcess[str]:
    """A program as a member would start it: in its own folder, without this project's settings."""
    told = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    told["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{told.get('PATH', '')}"
    told |= {"BENCHNIGHT_TOKEN": token, "NO_PROXY": "127.0.0.1", "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        command, cwd=place, env=told, capture_output=True, text=True, timeout=120, check=False
    )


PYTHON = sys.executable
