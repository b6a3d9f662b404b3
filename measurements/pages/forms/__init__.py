"""Forms: what a member types. Checks of the trade live in `ingest` and `queries`, not here."""
