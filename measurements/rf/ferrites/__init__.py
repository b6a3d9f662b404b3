"""Model windings on ferrite cores: learn, predict, propose and validate."""
