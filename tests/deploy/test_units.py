"""The service files run commands that there are, with the settings of one file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
UNITS = sorted(DEPLOY.glob("*.service"))


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_every_command_exists_and_knows_its_settings(unit):
    text = unit.read_text(encoding="utf-8")
    started = re.findall(r"^ExecStart=(.+)$", text, re.MULTILINE)
    commands = [line.split("manage.py ", 1)[1].split()[0] for line in started if "manage.py" in line]
    assert started and set(commands) <= set(get_commands())
    assert "EnvironmentFile=/etc/benchnight.env" in text and "NoNewPrivileges=true" in text


def test_the_timer_has_its_service():
    assert {timer.with_suffix(".service") for timer in DEPLOY.glob("*.timer")} <= set(UNITS)
