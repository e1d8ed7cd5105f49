"""Run as `python -m bolewalk`."""

from bolewalk.cli import main

if __name__ == "__main__":
    main(prog_name="bolewalk")
