"""The one entry point: a request in, the contract's result out.

A kind is a module with `compute(request: Request) -> Computed` (see `request.py`) and a row of
`KINDS` below. `request.sweeps` reach it merged (sweep_reversed) and converted to 50 ohm where that is
exact, each on its own frequencies; `bands.band_grid(sweep.freq_hz, request.bands)` and
`bands.sweep_at(sweep, grid.freq_hz)` put them on one list. General flags (not passive, unmeasured
columns, uncalibrated, coverage of bands) are raised here, not by the kinds.
"""

from __future__ import annotations

from .request import Analysis, Computed, Readings, Request

__all__ = ["Analysis", "Computed", "Readings", "Request"]
