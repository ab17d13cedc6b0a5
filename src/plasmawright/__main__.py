"""``python -m plasmawright`` is the command line."""

from plasmawright.cli.main import run

if __name__ == "__main__":
    run()
