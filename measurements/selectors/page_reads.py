"""The front of `models.read_once` for the doors: the block within which a request reads nothing twice."""

from measurements.models.read_once import remember_reads

__all__ = ["remember_reads"]
