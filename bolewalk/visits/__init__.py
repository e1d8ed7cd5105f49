"""Earlier visits: what was known, said, chosen and refused, then and now."""
