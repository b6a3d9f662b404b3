"""Touchstone files that leave, read back by scikit-rf to the numbers that the API tells elsewhere."""

from __future__ import annotations

import io

import numpy as np
import pytest
import skrf

from tests import factories

STATISTICS = ("median",)  # of six people; `tests/selectors/designs/test_designs.py` has ten


def network(reply, ending: str = "s2p") -> skrf.Network:
    """What scikit-rf makes of a reply."""
    file = io.StringIO(reply.content.decode("ascii"))
    file.name = f"reply.{ending}"
    return skrf.Network(file)


def jig_sweep(z_ohm: complex, seed: int) -> bytes:
    """A full two-port of one impedance in series at 50 ohm, as an analyser saves it."""
    freq_hz = np.linspace(1e6, 30e6, 401)
    s11, s21 = z_ohm / (z_ohm + 100), 100 / (z_ohm + 100)
    rows = [
        f"{f:.1f} {s11.real} {s11.imag} {s21.real} {s21.imag} {s21.real} {s21.imag} {s11.real} {s11.imag}"
        for f in freq_hz
    ]
    return ("\n".join([f"! invented {seed}", "# Hz S RI R 50", *rows]) + "\n").encode()


class TestCurves:
    @pytest.mark.parametrize("statistic", STATISTICS)
    def test_series_impedance_of_a_curve(self, scene, statistic):
        """Z = -1/Y21 of the two-port is the curve's own resistance and reactance."""
        path = f"designs/{scene.popular}/curves/"
        told = scene.ask("owner", "GET", path).json()
        read = network(scene.ask("owner", "GET", f"{path}?format=touchstone&curve={statistic}"))
        z_ohm = -1 / skrf.network.s2y(read.s, 50)[:, 1, 0]
        known = [index for index, ohm in enumerate(told["resistance_ohm"][statistic]) if ohm is not None]
        assert len(known) > 40
        # replies give frequencies to nine digits and figures to five digits
        assert read.f == pytest.approx([told["freq_hz"][index] for index in known], rel=1e-8, abs=0.01)
        for part, name in ((z_ohm.real, "resistance_ohm"), (z_ohm.imag, "reactance_ohm")):
            wanted = np.array([told[name][statistic][index] for index in known])
            assert part == pytest.approx(wanted, rel=5e-5, abs=5e-5)


class TestSweeps:
    def address(self, test: str, form: str) -> str:
        return f"tests/{test}/sweeps/sweep/?format=touchstone&form={form}"

    def record(self, scene, **files: bytes) -> str:
        form = {"device": scene.device, "measured_on": "2026-03-21", "kind": "common_mode", **files}
        reply = scene.ask("owner", "POST", "tests/", form=form)
        assert reply.status_code == 201, reply.content
        return reply.json()["id"]

    def test_the_bytes_as_they_came_read_back_to_the_same_numbers(self, scene, tmp_path):
        data = factories.choke_s2p(3000, seed=91)
        test = self.record(scene, sweep=data)
        (tmp_path / "sent.s2p").write_bytes(data)
        reply = scene.ask("owner", "GET", f"tests/{test}/sweeps/sweep/")
        assert reply.content == data
        assert np.array_equal(network(reply).s, skrf.Network(str(tmp_path / "sent.s2p")).s)

    def test_merged(self, scene):
        forward = factories.choke_s2p(3000, seed=92, one_direction=True)
        turned = factories.choke_s2p(3000, seed=93, one_direction=True)
        test = self.record(scene, sweep=forward, sweep_reversed=turned)
        reply = scene.ask("owner", "GET", self.address(test, "merged"))
        halves = [
            network(scene.ask("owner", "GET", f"tests/{test}/sweeps/{role}/"))
            for role in ("sweep", "sweep_reversed")
        ]
        read = network(reply)
        assert np.array_equal(read.s[:, :, 0], halves[0].s[:, :, 0])
        assert np.array_equal(read.s[:, 1, 1], halves[1].s[:, 0, 0])
        assert np.array_equal(read.s[:, 0, 1], halves[1].s[:, 1, 0])
        head = [line for line in reply.content.decode().splitlines() if line.startswith("!")]
        assert any("turned round" in line for line in head) and any("milliwatts" in line for line in head)
        assert reply["Content-Disposition"] == f'attachment; filename="test-{test}-merged.s2p"'

    def test_compensated_has_the_impedance_that_the_result_tells(self, scene):
        test = self.record(
            scene,
            sweep=factories.choke_s2p(3000, seed=94),
            jig_open=jig_sweep(100e3 - 200e3j, 1),
            jig_short=jig_sweep(0.2 + 1.5j, 2),
        )
        read = network(scene.ask("owner", "GET", self.address(test, "compensated")))
        result = scene.ask("owner", "GET", f"tests/{test}/").json()["result"]
        assert result["summary"]["rejection_judged"] == "compensated"
        band = next(each for each in result["bands"] if each["band"] == "20m")
        z_ohm = -1 / skrf.network.s2y(read.s, 50)[:, 1, 0]
        inside = (read.f >= band["start_hz"]) & (read.f <= band["stop_hz"])
        rejection_db = 20 * np.log10(np.abs(1 + z_ohm[inside] / 100))
        assert rejection_db.min() == pytest.approx(band["rejection_db"]["worst"], abs=0.1)

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            ("?format=touchstone", "query.form"),
            ("?form=merged", "query.form"),
            ("?format=touchstone&form=merged", "corrected.not_turned"),
            ("?format=touchstone&form=compensated", "corrected.no_jig"),
            ("?format=touchstone&form=other", "request.invalid"),
        ],
    )
    def test_what_cannot_be_had(self, scene, words, code):
        reply = scene.ask("owner", "GET", f"tests/{scene.test}/sweeps/sweep/{words}")
        assert (reply.status_code, reply.json()["code"]) == (400, code)
        assert reply.json()["errors"][0]["field"] == "form"

    def test_another_role_has_no_other_form(self, scene):
        test = self.record(scene, sweep=factories.choke_s2p(3000, seed=95), jig_open=jig_sweep(100e3 + 0j, 3))
        reply = scene.ask("owner", "GET", f"tests/{test}/sweeps/jig_open/?format=touchstone&form=compensated")
        assert (reply.status_code, reply.json()["code"]) == (400, "query.form")

    @pytest.mark.parametrize("role", ["stranger", "operator"])
    def test_not_for_others(self, scene, role):
        reply = scene.ask(role, "GET", self.address(scene.test, "compensated"))
        assert (reply.status_code, reply.json()["code"]) == (404, "test.not_found")
