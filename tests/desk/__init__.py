"""The desk, in process and in a browser."""
