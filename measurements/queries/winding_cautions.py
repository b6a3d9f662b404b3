"""What to take care of beside a predicted winding, by its mix. Sentences as doors show them."""

from __future__ import annotations

from collections.abc import Iterable

from measurements.models import Mix
from measurements.queries.rows_of_predictions import CautionRow

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


def of_mixes(names: Iterable[str]) -> tuple[CautionRow, ...]:
    """The cautions for windings on these mixes; one query."""
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
