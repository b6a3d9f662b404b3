"""Every read, by feature: frozen rows, already filtered for who asks."""
