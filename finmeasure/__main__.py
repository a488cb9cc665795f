"""Run the command line with ``python -m finmeasure``."""

from finmeasure.cli import main

if __name__ == "__main__":
    main()
