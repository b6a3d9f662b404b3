"""Club nights: opening and closing, attendance, guests and claim codes."""
