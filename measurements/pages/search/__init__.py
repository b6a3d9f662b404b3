"""The search box and its answers."""
