"""The demo scenario, computed and stored through the real writes."""
