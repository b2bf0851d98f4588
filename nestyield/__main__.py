"""``python -m nestyield``: the same as the console command."""

import sys

from nestyield.cli import main

if __name__ == "__main__":
    sys.exit(main())
