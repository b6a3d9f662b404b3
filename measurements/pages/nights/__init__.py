"""Club nights: people, devices, jig, bench."""
