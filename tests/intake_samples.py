"""Intakes to test with: sweeps, hand-ins that were worked on, and what became of their files. Invented."""

from __future__ import annotations

from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.services.intakes import intakes as intakes_services
from measurements.services.uploads.uploads import Upload
from tests import factories

HEAD = "file,tag,contributor,kind,method,role,ratio,design"


def choke(seed: int, name: str | None = None) -> Upload:
    return Upload(name or f"c{seed}.s2p", factories.choke_s2p(seed=seed, points=101))


def taken_in(by, night, files, lines, head=HEAD) -> str:
    """The key of an intake that was worked on to its end."""
    key = intakes_services.begin_intake(
        by=by, night=night, files=files, manifest="\n".join([head, *lines])
    ).key
    intakes_services.work_on_intake(intake=key)
    return key


def states(by, key) -> list[str]:
    return [file.state for file in intakes_selectors.get_intake(by, key).files]


def reasons(by, key) -> list[str]:
    return [file.reason for file in intakes_selectors.get_intake(by, key).files]


def one_port(name: str, z_ohm: complex) -> Upload:
    lines = ["# MHz S RI R 50"]
    for tenth in range(10, 301, 5):
        s11 = (z_ohm - 50) / (z_ohm + 50)
        lines.append(f"{tenth / 10} {s11.real:.8f} {s11.imag:.8f}")
    return Upload(name, "\n".join(lines).encode())


def one_file(by, night, key=None) -> str:
    """An intake of one sweep that can be stored."""
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{key or factories.design(by)}"]
    return intakes_services.begin_intake(
        by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])
    ).key
