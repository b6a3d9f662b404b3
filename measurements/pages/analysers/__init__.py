"""My analysers: described once, measured with check sweeps."""
