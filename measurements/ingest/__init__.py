"""Every write: read, check, compute, store, audit; releases and recomputation too.

A write is one keyword-only function with an actor (`by=`), one transaction and one audit row.
Called through its module: `tests.record(by=viewer, ...)`. Start reading at `tests.py`.
"""
