"""Drawings as vectors, made once and used by papers and desk alike."""
