"""Every read: frozen rows, already filtered for who asks. Nothing here can write.

Reads are noun phrases called through their module: `designs.evidence(viewer, ...)`.
Start reading at `rows.py` (what leaves this room) and `designs.py`.
"""
