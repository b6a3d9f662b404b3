"""The table of detectors: which one looks at which kind and method, and runs on every computed test.

A detector takes a `CheckedTest` and answers flags; it changes no figure and raises nothing. To add one: a
pure function in a module beside this one, a row of `DETECTORS`, a sentence and an entry of the guide.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from measurements.rf.bands import resample_sweep
from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments import jig, resistors
from measurements.rf.instruments.assumed_errors import AssumedErrors, assume_errors
from measurements.rf.loss.back_to_back import is_crossed
from measurements.rf.loss.one_port import FAR_SIDE_ROLES, reconstruct_two_port
from measurements.rf.networks import two_port
from measurements.rf.request import Computed, Request, get_nominal_load_ohm
from measurements.rf.sweeps.sweep import Complexes, Sweep
from measurements.rf.wrong_input import (
    choke_sweeps,
    delay_behind_port2,
    far_sides,
    file_faults,
    jig_files,
    loss_sweeps,
    loss_wirings,
)

PAIR_METHODS = ("back_to_back", "known_partner", "pairs")


@dataclass(frozen=True)
class CheckedTest:
    """A test as prepared (`prepare_request`) and the figures that were computed from it."""

    request: Request
    computed: Computed

    def find(self, role: str) -> Sweep | None:
        return self.request.sweeps.get(role)

    def list_pairs(self) -> dict[str, Sweep]:
        """Return the sweeps of whole pairs by role."""
        sweeps = self.request.sweeps
        named = {role: sweep for role, sweep in sorted(sweeps.items()) if role.startswith("pair_")}
        return {"sweep": sweeps["sweep"]} if "sweep" in sweeps else named

    def get_errors(self, sweep: Sweep) -> AssumedErrors:
        return assume_errors(sweep, self.request.analyser)


Detect = Callable[[CheckedTest], tuple[Flag, ...]]


@dataclass(frozen=True)
class Detector:
    """kinds, methods: where it applies; None for everywhere. flags: every code that it may raise."""

    detect: Detect
    flags: tuple[str, ...]
    kinds: tuple[str, ...] | None = None
    methods: tuple[str, ...] | None = None

    def applies(self, kind: str, method: str) -> bool:
        return (self.kinds is None or kind in self.kinds) and (self.methods is None or method in self.methods)


def flag_wrong_input(request: Request, computed: Computed) -> tuple[Flag, ...]:
    """Run every detector that applies. request: as prepared; readings typed in have nothing to detect."""
    if not request.sweeps or computed.main is None:
        return ()
    test = CheckedTest(request, computed)
    return tuple(
        flag
        for detector in DETECTORS
        if detector.applies(request.kind, computed.method)
        for flag in detector.detect(test)
    )


def _same_numbers(test: CheckedTest) -> tuple[Flag, ...]:
    return file_faults.flag_same_numbers(test.request.sweeps)


def _numbers_beyond_range(test: CheckedTest) -> tuple[Flag, ...]:
    sweeps = test.request.sweeps.items()
    return tuple(
        flag for role, sweep in sweeps for flag in file_faults.flag_numbers_beyond_range(sweep, role)
    )


def _phase_too_small(test: CheckedTest) -> tuple[Flag, ...]:
    """Look at everything but the jig's own sweeps: a closed jig hardly turns the phase."""
    sweeps = test.request.sweeps.items()
    return tuple(
        flag
        for role, sweep in sweeps
        if not role.startswith("jig_")
        for flag in file_faults.flag_phase_too_small(sweep, role)
    )


def _cable(test: CheckedTest) -> tuple[Flag, ...]:
    sweep = _get_equal_two_port(test.find("sweep"))
    if sweep is None:
        return ()
    found = choke_sweeps.flag_cable_left_in(sweep, test.get_errors(sweep))
    return found or _flag_cable_behind_port2(test, sweep)


def _flag_cable_behind_port2(test: CheckedTest, sweep: Sweep) -> tuple[Flag, ...]:
    """Return cable that only S21 shows, in a sweep from one end; the jig's through takes it out."""
    errors = test.get_errors(sweep)
    if "jig_through" in test.request.sweeps:
        sweep, through = _align(test, ("sweep", "jig_through"))
        sweep, _ = jig.normalise_by_through(sweep, through)
    delay_s = delay_behind_port2.find_delay_behind_port2(sweep, errors)
    if delay_s is None:
        return ()
    metres = delay_s * delay_behind_port2.SPEED_M_PER_S
    return (build_flag("cable_behind_port2", metres=f"{metres:.1f}"),)


def _reversed_phase(test: CheckedTest) -> tuple[Flag, ...]:
    sweep = test.request.sweep()
    return choke_sweeps.flag_reversed_phase(sweep, test.get_errors(sweep))


def _antenna(test: CheckedTest) -> tuple[Flag, ...]:
    sweep = test.request.sweep()
    return choke_sweeps.flag_looks_like_antenna(sweep, test.get_errors(sweep))


def _jig_files(test: CheckedTest) -> tuple[Flag, ...]:
    sweep = test.request.sweep()
    errors = test.get_errors(sweep)
    wrong = jig_files.flag_wrong_jig_files(test.request.sweeps, errors)
    return (*wrong, *jig_files.flag_foreign_jig(sweep, test.request.sweeps, errors, wrong))


def _get_equal_two_port(sweep: Sweep | None) -> Sweep | None:
    """Return a sweep with S11 and S21 at 50 ohm; other references have no S11 + S21 = 1."""
    if sweep is None or not choke_sweeps.has_both_columns(sweep):
        return None
    return sweep if bool((sweep.z0_ohm == sweep.z0_ohm[0]).all()) else None


def _load_match(test: CheckedTest) -> tuple[Flag, ...]:
    return loss_wirings.flag_loaded_wiring(test.request, test.find("sweep"), "sweep")


def _far_load(test: CheckedTest) -> tuple[Flag, ...]:
    return loss_wirings.flag_loaded_wiring(test.request, test.find("far_load"), "far_load")


def _far_sides(test: CheckedTest) -> tuple[Flag, ...]:
    aligned = _align(test, FAR_SIDE_ROLES)
    if any(loss_wirings.get_reflection(sweep) is None for sweep in aligned):
        return ()
    far_open, far_short, far_load = (sweep.s[:, 0, 0] for sweep in aligned)
    errors = test.get_errors(aligned[0])
    found = far_sides.flag_far_sides(aligned[0].freq_hz, far_open, far_short, far_load, errors)
    # three sweeps that do not belong together say nothing of the load, and a wrong load nothing of the ratio
    found = found or _far_load(test)
    s = reconstruct_two_port(far_open, far_short, far_load)
    found = found or far_sides.flag_other_ratio(_refer_to_nominal(test.request, s), float(test.request.ratio))
    nominal, given = get_nominal_load_ohm(test.request), test.request.load_ohm
    tolerance = resistors.get_tolerance(test.request.analyser, given, nominal)
    share = (given or nominal) / nominal
    return found or far_sides.flag_off_circuit(far_open, far_short, far_load, errors, share, tolerance)


def _refer_to_nominal(request: Request, s: Complexes) -> Complexes:
    """Return S (F, 2, 2) of a device swept with its load, referred to the nominal one."""
    nominal = get_nominal_load_ohm(request)
    load = request.load_ohm or nominal
    return two_port.renormalise_s(s, (NOMINAL_OHM, load), (NOMINAL_OHM, nominal))


def _align(test: CheckedTest, roles: tuple[str, ...]) -> list[Sweep]:
    """Return the sweeps of `roles` at the measured points of the test's grid."""
    at_hz = test.computed.grid.freq_hz[test.computed.grid.measured]
    return [resample_sweep(test.request.sweep(role), at_hz) for role in roles]


def _series_resistor(test: CheckedTest) -> tuple[Flag, ...]:
    return loss_wirings.flag_series_wiring(test.request, test.find("sweep"))


def _straight(test: CheckedTest) -> tuple[Flag, ...]:
    sweep = test.find("sweep")
    found = loss_wirings.flag_straight_wiring(test.request, sweep)
    full = sweep is not None and sweep.ports == 2 and sweep.measured.all() and not sweep.magnitude_only
    if found or not full or sweep is None:
        return found
    nominal = get_nominal_load_ohm(test.request)
    s = two_port.renormalise_s(sweep.s, (NOMINAL_OHM, NOMINAL_OHM), (NOMINAL_OHM, nominal))
    return far_sides.flag_other_ratio(s, float(test.request.ratio))


def _one_for_two(test: CheckedTest) -> tuple[Flag, ...]:
    found: list[Flag] = []
    for role, sweep in test.list_pairs().items():
        flags = loss_wirings.flag_one_for_two(test.request, sweep, role)
        if not flags and choke_sweeps.has_both_columns(sweep):
            flags = _flag_ratio_step(test, sweep, role)
        found += flags
    return tuple(found)


def _flag_ratio_step(test: CheckedTest, sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """Return a pair whose halves do not belong together: one device, or two of different ratios."""
    errors = test.get_errors(sweep)
    step = loss_sweeps.find_ratio_step(sweep, errors)
    if loss_sweeps.is_not_symmetric(sweep, errors) and (step is None or step > 0.6 * test.request.ratio):
        return (build_flag("single_device_as_pair", role=role),)
    if step is None:
        return ()
    return (build_flag("pair_of_other_ratio", role=role, step=f"{step:.1f}"),)


def _foreign_far_load(test: CheckedTest) -> tuple[Flag, ...]:
    if "far_load" not in test.request.sweeps:
        return ()
    role = next(iter(test.list_pairs()))
    pair, load = _align(test, (role, "far_load"))
    gamma = loss_wirings.get_reflection(load)
    if gamma is None or not choke_sweeps.has_both_columns(pair):
        return ()
    s11, s21 = pair.s[:, 0, 0], pair.s[:, 1, 0]
    s21 = -s21 if is_crossed(pair.freq_hz, s21) else s21
    found = far_sides.flag_foreign_far_load(s11, s21, gamma, test.get_errors(pair))
    s = reconstruct_two_port(s11 + s21, s11 - s21, gamma)
    return found or far_sides.flag_other_ratio(_refer_to_nominal(test.request, s), float(test.request.ratio))


def _pairs(test: CheckedTest) -> tuple[Flag, ...]:
    roles = tuple(test.list_pairs())
    traces = test.computed.traces
    losses = {
        name[5:6]: values for name, values in traces.items() if name.startswith("loss_") and len(name) == 9
    }
    flags = loss_sweeps.flag_pair_gain(losses, traces.get("uncertainty_db", np.zeros(1)), roles)
    aligned = _align(test, roles)
    if flags or not all(choke_sweeps.has_both_columns(sweep) for sweep in aligned):
        return flags
    errors = test.get_errors(aligned[0])
    return loss_sweeps.flag_contradicting_pairs(dict(zip(roles, aligned, strict=True)), errors)


def _halves(test: CheckedTest) -> tuple[Flag, ...]:
    phase_deg = test.computed.traces.get("phase_imbalance_deg")
    return () if phase_deg is None else loss_wirings.flag_halves_in_phase(phase_deg)


_CM, _IL = ("common_mode",), ("insertion_loss",)
DETECTORS: tuple[Detector, ...] = (
    Detector(_same_numbers, ("same_file_twice",)),
    Detector(_numbers_beyond_range, ("numbers_beyond_range",)),
    Detector(_phase_too_small, ("phase_too_small",)),
    Detector(_cable, ("cable_left_in", "cable_behind_port2"), _CM),
    Detector(_reversed_phase, ("phase_reversed",), _CM),
    Detector(_antenna, ("looks_like_antenna",), _CM, ("s11",)),
    Detector(
        _jig_files,
        ("jig_open_passes", "jig_short_rejects", "jig_foreign"),
        _CM,
    ),
    Detector(_load_match, ("driven_from_far_side", "other_load"), ("load_match",)),
    Detector(
        _far_sides,
        ("far_sides_mixed", "driven_from_far_side", "other_load", "ratio_contradicted"),
        _IL,
        ("one_port",),
    ),
    Detector(
        _series_resistor, ("series_resistor_missing", "driven_from_far_side"), _IL, ("series_resistor",)
    ),
    Detector(_straight, ("driven_from_far_side", "ratio_contradicted"), _IL, ("direct", "renormalised")),
    Detector(_one_for_two, ("single_device_as_pair", "pair_of_other_ratio"), _IL, PAIR_METHODS),
    Detector(_foreign_far_load, ("far_load_foreign", "ratio_contradicted"), _IL, ("back_to_back",)),
    Detector(_pairs, ("pairs_contradict",), _IL, ("pairs",)),
    Detector(_halves, ("halves_in_phase",), ("balance",)),
)
