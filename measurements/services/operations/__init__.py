"""Operation of the server: audit, use counts, backup, restore, transfer and tidying."""
