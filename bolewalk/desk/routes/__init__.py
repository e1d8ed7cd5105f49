"""Routes: a request is parsed here, decided elsewhere, and answered."""
