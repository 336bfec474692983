"""`python -m refdb` is the command `refdb`."""

from refdb.cli.start import run

if __name__ == "__main__":
    run()
