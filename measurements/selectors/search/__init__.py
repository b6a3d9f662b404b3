"""What the one search box finds, within what the viewer may see. Start at `search.py`."""
