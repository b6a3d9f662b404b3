"""What to take care of beside a predicted winding, by its mix. Sentences as doors show them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from measurements.models import Mix
from measurements.selectors.predictions.rows import BandChanceRow, CautionRow, PredictionSources

NO_POWER = CautionRow(
    "No power rating",
    "This is small-signal impedance and nothing else: no power rating follows from it.",
)

# 100 V and 200 V peak are sqrt(2 P R) of 100 W in 50 and in 200 ohm
VOLTAGE_AND_HEAT = (
    "Common-mode current heats a core, and a transmitting balun carries hundreds of volts: 100 W are 100 V "
    "peak across 50 ohm and 200 V across 200 ohm, and more with any mismatch. Switch off and let it cool "
    "before you touch it."
)

CONDUCTS_BELOW_OHM_CM = 1e4  # manganese-zinc ferrites are hundreds to thousands, nickel-zinc ones above


def list_cautions(names: Iterable[str]) -> tuple[CautionRow, ...]:
    """Return the cautions for windings on these mixes; one query."""
    rows = Mix.objects.filter(name__in=set(names)).order_by("name")
    known = list(rows.values_list("name", "curie_c", "resistivity_ohm_cm"))
    said = VOLTAGE_AND_HEAT
    curie = [f"mix {name} {curie_c:.0f} \u00b0C" for name, curie_c, _ in known if curie_c is not None]
    if curie:
        said += f" A core loses its permeability above its Curie point (at least: {', '.join(curie)})."
    found = [NO_POWER, CautionRow("High voltage and heat", said)]
    conducting = [name for name, _, ohm_cm in known if ohm_cm is not None and ohm_cm < CONDUCTS_BELOW_OHM_CM]
    if conducting:
        found.append(
            CautionRow(
                "Some ferrites conduct",
                f"Mix {' and '.join(conducting)} conducts: wind it with insulated wire only.",
            )
        )
    return tuple(found)


# Predictions in words: what limits a winding, what stands behind it. Doors show these
# as is.


def explain_limits(bands: Sequence[BandChanceRow], benchmark_db: float) -> str:
    """Explain the limit of a winding in one or two sentences."""
    low = [band.band for band in bands if band.limit == "inductance"]
    high = [band.band for band in bands if band.limit == "resonance"]
    uncovered = [band.band for band in bands if band.chance is None]
    said = []
    if low:
        said.append(f"On {_join_names(low)} it is short of inductance: a turn or a core more would raise it.")
    if high:
        said.append(
            f"On {_join_names(high)} it lies above its resonance, where the capacitance across the "
            f"winding takes "
            "over: a turn less, or turns spread further apart, would raise it."
        )
    if uncovered:
        said.append(f"Of {_join_names(uncovered)} the maker's table of this mix says nothing.")
    if not said:
        said.append(f"Nothing limits it on these bands at {benchmark_db:g} dB.")
    return " ".join(said)


def describe_sources(rests_on: PredictionSources) -> str:
    """Describe the basis of a prediction."""
    table = f"the maker's table of mix {rests_on.mix}"
    if rests_on.release is None:
        return f"It rests on {table} alone: nothing was learned from a release yet."
    if not rests_on.learned:
        return f"It rests on {table}: release {rests_on.release} shows you no evidence of this mix."
    designs = f"{rests_on.designs} design{'s' if rests_on.designs != 1 else ''}"
    return f"It rests on {table}, corrected by the evidence of {designs} in release {rests_on.release}."


def _join_names(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
