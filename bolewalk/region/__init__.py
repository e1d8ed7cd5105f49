"""Many sites at once: a city's trees against a scheme of works."""
