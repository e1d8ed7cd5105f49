"""Steps from each schema of the store to the next; written once, never changed afterwards."""
