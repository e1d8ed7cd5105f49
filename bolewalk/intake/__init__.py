"""The survey folder in: every file read, every problem reported at once, a job out."""
