"""Kit in many hands: handing over, lending, changes of many devices, tables."""
