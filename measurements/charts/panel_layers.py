"""The frequency axis that the layers of a panel share: its span, and logarithmic or linear."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from typing import Any, Literal, cast

from measurements.charts.colours import PALETTES, Tone, build_config
from measurements.selectors.reference.reference import BandRow

Scale = Literal["log", "linear"]

SCALES: tuple[Scale, ...] = ("log", "linear")

LOG_TICKS_MHZ = (1, 2, 3, 5, 7, 10, 14, 20, 30, 50, 100, 200, 500)

GRID_SPAN_MHZ = (1.0, 54.0)


@dataclass(frozen=True)
class FrequencyAxis:
    """From `low_mhz` to `high_mhz`, both of them positive."""

    low_mhz: float = GRID_SPAN_MHZ[0]
    high_mhz: float = GRID_SPAN_MHZ[1]
    scale: Scale = "log"

    def place(self, f_mhz: float) -> float:
        """Return the place of this frequency from the left, 0 to 1 within the span."""
        at = (log(each) if self.scale == "log" else each for each in (self.low_mhz, f_mhz, self.high_mhz))
        low, here, high = at
        return (here - low) / (high - low)

    def at(self, place: float) -> float:
        """Return the frequency that lies there, MHz: the reverse of `place`."""
        if self.scale == "log":
            return float(self.low_mhz * (self.high_mhz / self.low_mhz) ** place)
        return self.low_mhz + place * (self.high_mhz - self.low_mhz)

    def encoding(self) -> dict[str, Any]:
        """Return the encoding of x in every layer; the field is `f`, in MHz."""
        # on a linear axis ~g would write 10 as 1e+1, because it keeps as many digits as the step has
        axis: dict[str, Any] = {"format": "~g" if self.scale == "log" else "~f", "grid": False}
        if self.scale == "log":
            # a logarithmic axis by itself names 1, 10, 100; the trade thinks in these
            axis["values"] = [tick for tick in LOG_TICKS_MHZ if self.low_mhz <= tick <= self.high_mhz]
        return {
            "field": "f",
            "type": "quantitative",
            "title": "Frequency, MHz",
            "scale": {"type": self.scale, "domain": [self.low_mhz, self.high_mhz], "nice": False},
            "axis": axis,
        }


# The pieces every panel is made of: the frequency axis, band shading, the limit line, the frame.
#
# A panel is a layered Vega-Lite view with frequency in MHz on a shared axis, logarithmic or linear.

Spec = dict[str, Any]

VEGALITE_SCHEMA = (
    "https://vega.github.io/schema/vega-lite/v6.json"  # names the language; nothing is loaded from it
)

VEGALITE_VERSION = "6.4"

HEIGHT_PX = 300

# names of bands stand upright; where a phone's panel is too narrow for two side by side, one stands higher
BAND_NAME_APART, BAND_NAME_STEP_PX = 0.06, 34

# a name stands left of where its band begins, and not on the axis
BAND_NAME_FROM = 0.05

# behind words that a line may pass through
HALO_PX = 4

# four digits, and never 1.05e+4 for an impedance of 10,500 ohm
READ_OUT_FORMAT = ",.4~r"

NUMBER_DIGITS = 5


def round_figure(value: float | None, digits: int) -> float | None:
    """Return a figure short enough for a chart; None stays a gap."""
    return None if value is None else round(float(value), digits)


def round_numbers(part: Any) -> Any:
    """Round every number of a specification to five significant digits; no screen shows more."""
    if isinstance(part, float):
        return float(f"{part:.{NUMBER_DIGITS}g}")
    if isinstance(part, dict):
        return {name: round_numbers(inner) for name, inner in part.items()}
    if isinstance(part, list | tuple):
        return [round_numbers(inner) for inner in part]
    return part


def convert_to_mhz(freq_hz: float) -> float:
    """Return megahertz with a resolution that no screen can show."""
    return float(f"{freq_hz / 1e6:.5g}")


def build_band_layers(bands: Iterable[BandRow], x: FrequencyAxis, tone: Tone) -> list[Spec]:
    """Return shaded bands with their names, clipped to the span; nothing where no band lies in it."""
    low, high = x.low_mhz, x.high_mhz
    rows = [
        {
            "name": row.band,
            "f": max(convert_to_mhz(row.start_hz), low),
            "to": min(convert_to_mhz(row.stop_hz), high),
        }
        for row in bands
        if convert_to_mhz(row.start_hz) < high and convert_to_mhz(row.stop_hz) > low
    ]
    if not rows:
        return []
    data = {"values": rows}
    words = {"align": "left", "angle": 270, "baseline": "bottom", "fontSize": 11, "dx": 4, "dy": -1}
    return [
        {
            "data": data,
            "mark": {
                "type": "rect",
                "color": PALETTES[tone].shade,
                # a narrow band stays visible on a phone
                "stroke": PALETTES[tone].shade,
                "strokeWidth": 1.5,
                "tooltip": None,
                "clip": True,
            },
            "encoding": {"x": x.encoding(), "x2": {"field": "to"}},
        },
        *(
            {
                "data": {"values": level},
                "mark": {"type": "text", **words, "color": PALETTES[tone].faint, "tooltip": None},
                "encoding": {
                    "x": x.encoding(),
                    "y": {"value": HEIGHT_PX - BAND_NAME_STEP_PX * above},
                    "text": {"field": "name"},
                },
            }
            for above, level in enumerate(_stack_band_names(rows, x))
        ),
    ]


def _stack_band_names(rows: Sequence[Spec], x: FrequencyAxis) -> list[list[Spec]]:
    """Return the bands by how high their names stand: each as low as the names left of it leave room."""
    levels: list[list[Spec]] = []
    for band in sorted(rows, key=lambda row: float(row["f"])):
        here = max(x.place(band["f"]), BAND_NAME_FROM)
        row = {"name": band["name"], "f": float(f"{x.at(here):.5g}")}
        free = (level for level in levels if here - x.place(level[-1]["f"]) >= BAND_NAME_APART)
        level = next(free, None)
        if level is None:
            levels.append([row])
        else:
            level.append(row)
    return levels


def build_limit_layers(value: float, label: str, y: Spec, x: FrequencyAxis, tone: Tone) -> list[Spec]:
    """Return a dashed line at a limit with its words at the left, on a rim of the ground's colour."""
    data = {"values": [{"f": x.low_mhz, "limit": value, "label": label}]}
    colour = PALETTES[tone].limit
    words = {"type": "text", "align": "left", "baseline": "bottom", "dx": 5, "dy": -3, "fontSize": 12}
    ground = {"stroke": PALETTES[tone].ground, "strokeWidth": HALO_PX, "strokeJoin": "round"}
    y_limit = {**y, "field": "limit"}
    told = {"x": x.encoding(), "y": y_limit, "text": {"field": "label"}}
    return [
        {
            "data": data,
            "mark": {
                "type": "rule",
                "strokeDash": [6, 4],
                "strokeWidth": 1.5,
                "color": colour,
                "tooltip": None,
            },
            "encoding": {"y": y_limit},
        },
        {
            "data": data,
            "mark": {**words, **ground, "color": ground["stroke"], "tooltip": None},
            "encoding": told,
        },
        {"data": data, "mark": {**words, "color": colour, "tooltip": None}, "encoding": told},
    ]


def parse_axis_unit(axis: str) -> str:
    """Return the unit that an axis title ends with, such as `dB` of `Loss, dB`; empty for a figure without
    one.
    """
    return axis.rpartition(", ")[2] if ", " in axis else ""


def build_pointer_layer(
    rows: Spec, columns: Sequence[tuple[str, str]], x: FrequencyAxis, tone: Tone, unit: str = ""
) -> Spec:
    """Return an upright line under the pointer that reads out every column there, with its unit."""
    nearest = {
        "name": "at",
        "select": {
            "type": "point",
            "nearest": True,
            "on": "pointerover",
            "clear": "pointerout",
            "encodings": ["x"],
        },
    }
    return {
        "data": rows,
        "params": [nearest],
        # clip: a point outside the span would else take room beside the panel
        "mark": {"type": "rule", "color": PALETTES[tone].faint, "strokeWidth": 1, "clip": True},
        "encoding": {
            "x": x.encoding(),
            "opacity": {"condition": {"param": "at", "empty": False, "value": 0.8}, "value": 0},
            "tooltip": [
                {"field": "f", "type": "quantitative", "title": "MHz", "format": READ_OUT_FORMAT},
                *(
                    {
                        "field": field,
                        "type": "quantitative",
                        "title": f"{title}, {unit}" if unit else title,
                        "format": READ_OUT_FORMAT,
                    }
                    for field, title in columns
                ),
            ],
        },
    }


def build_panel(layers: list[Spec], title: str, width_px: int | None) -> Spec:
    """Return a panel; `width_px` None lets it fill the element it is drawn in."""
    return {
        "title": title,
        "width": "container" if width_px is None else width_px,
        "height": HEIGHT_PX,
        "layer": layers,
    }


def build_specification(views: Sequence[Spec], description: str, tone: Tone) -> Spec:
    """Return the whole specification: one panel as it is, several below each other."""
    apart = {"scale": {"color": "independent", "strokeDash": "independent"}}
    body: Spec = dict(views[0]) if len(views) == 1 else {"vconcat": list(views), "resolve": apart}
    drawn: Spec = {
        "$schema": VEGALITE_SCHEMA,
        "description": description,
        "datasets": share_data(views),
        "padding": 5,
        **({"autosize": {"type": "fit-x", "contains": "padding"}} if len(views) == 1 else {}),
        **body,
        "config": build_config(tone),
    }
    return cast(Spec, round_numbers(drawn))


def share_data(views: Sequence[Spec]) -> dict[str, Any]:
    """Move the rows of all layers out to named data, so that layers which share rows send them once."""
    names: dict[int, str] = {}
    datasets: dict[str, Any] = {}
    for layer in (layer for view in views for layer in view["layer"]):
        rows = layer["data"]["values"]
        name = names.setdefault(id(rows), f"rows{len(names)}")
        datasets[name] = rows
        layer["data"] = {"name": name}
    return datasets
