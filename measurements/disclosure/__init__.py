"""Who may see what, how coarsely, and when a published figure may change.

Pure functions over values; no Django. Start reading at `viewers.py`, then `releases.py`.
"""
