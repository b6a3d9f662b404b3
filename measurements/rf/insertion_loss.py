"""Insertion loss: chooses the method from the files, runs it, and turns its curve into figures.

How to write a method module (`direct.py` is the shortest example):

    def curve(request: Request) -> LossCurve: ...

- `request.sweeps` are already merged (sweep_reversed) and converted to 50 ohm where that is exact,
  and all stand on one frequency list that includes the edges and centres of the bands. So compute
  point by point on `request.sweep("sweep").freq_hz`; nothing is to be aligned or interpolated.
- Take S-parameters with `request.sweep(role).column(i, j, field=role)`: it refuses unmeasured ones.
- Missing roles, resistors or ratios: raise BenchnightError `insertion_loss.<what>` with the field.
- Undefined points are NaN, without numpy warnings. Flags go into `LossCurve.flags`, made with
  `flags.flag(code, ...)`; a new code is an entry of `flag_catalogue._METHODS`.
- The module is then a row of `METHODS` below.
"""
