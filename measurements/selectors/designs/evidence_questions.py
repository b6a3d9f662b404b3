"""A question to the evidence: which kind of test, which bands, against which limit, and who asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from measurements.disclosure import evidence_view
from measurements.disclosure.viewers import Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import group_settings
from measurements.selectors.reference import reference
from measurements.verdict import decision_rule, judged_kinds
from measurements.verdict.judged_kinds import COMMON_MODE, EVIDENCE_KINDS, EVIDENCE_METRICS, INSERTION_LOSS


@dataclass(frozen=True)
class EvidenceQuery:
    """A question to the evidence.

    bands: each is answered by itself. joint_bands: those that were named, judged together. kind: of the
    tests; None for what each design is judged by first. limits: by kind, in the unit of its metric;
    house_limits: the group's own.
    """

    viewer: Viewer
    bands: tuple[str, ...]
    joint_bands: tuple[str, ...]
    kind: str | None
    limits: Mapping[str, float]
    house_limits: Mapping[str, float]

    def get_kind(self, purpose: str, principle: str) -> str:
        """Get the kind of test that a design of this purpose and principle is answered by."""
        return self.kind or judged_kinds.get_first_kind(purpose, principle)

    def is_at_house_limit(self, kind: str) -> bool:
        return self.limits[kind] == self.house_limits[kind]

    def get_least_contributors(self) -> int:
        """Get how many persons stand behind what this viewer is shown."""
        return evidence_view.get_min_contributors(get_circle(self.viewer), group_settings.get_thresholds())


def build_evidence_query(
    viewer: Viewer,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    *,
    kind: str | None = None,
    metric_limit: float | None = None,
) -> EvidenceQuery:
    """Build a question. bands: all of the plan by default.

    benchmark_db: of rejection. metric_limit: the largest loss, dB, or SWR, by `kind`; where no kind is named
    it is a loss. Raises BenchnightError `band.unknown`, `kind.unknown`, `limit.kind`, `benchmark.*`,
    `limit.*`.
    """
    known = tuple(row.band for row in reference.list_bands())
    for band in bands:
        if band not in known:
            raise BenchnightError(
                "band.unknown",
                f"There is no band {band[:12]!r} here; known: {', '.join(known)}.",
                field="band",
            )
    if kind is not None and kind not in EVIDENCE_KINDS:
        raise BenchnightError(
            "kind.unknown", f"Evidence is of one of: {', '.join(EVIDENCE_KINDS)}.", field="kind"
        )
    asked = tuple(band for band in known if band in bands)
    house = reference.get_limits()
    limits = dict(house)
    if benchmark_db is not None:
        limits[COMMON_MODE] = _check_limit(viewer, COMMON_MODE, benchmark_db, house)
    if metric_limit is not None:
        limited = _get_limited_kind(kind)
        limits[limited] = _check_limit(viewer, limited, metric_limit, house)
    return EvidenceQuery(viewer, asked or known, asked, kind, limits, house)


def _get_limited_kind(kind: str | None) -> str:
    if kind == COMMON_MODE:
        raise BenchnightError(
            "limit.kind",
            "A limit is of loss or SWR; of rejection it is `benchmark_db`.",
            field="limit",
        )
    return kind or INSERTION_LOSS


def _check_limit(viewer: Viewer, kind: str, limit: float, house: Mapping[str, float]) -> float:
    """Check the bounds of a limit, and its steps for the public. The group's own is always answered."""
    metric = EVIDENCE_METRICS[kind]
    checked = decision_rule.check_limit(metric, limit)
    step = evidence_view.PUBLIC_LIMIT_STEPS[metric.name]
    in_steps = abs(checked / step - round(checked / step)) < 1e-9
    if get_circle(viewer) == "public" and not in_steps and checked != house[kind]:
        is_benchmark = kind == COMMON_MODE
        raise BenchnightError(
            "benchmark.step" if is_benchmark else "limit.step",
            f"Without signing in, the {'benchmark' if is_benchmark else 'limit'} goes in steps of "
            f"{step:g}{'' if metric.name == 'swr' else ' dB'}.",
            field="benchmark_db" if is_benchmark else "limit",
        )
    return checked
