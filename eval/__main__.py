"""`python -m eval`."""

from eval.cli import run

if __name__ == "__main__":
    run()
