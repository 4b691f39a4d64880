"""`python -m tests.disturbances --disturbances 500` disturbs so many serial cables and prints the tally."""

from __future__ import annotations

import argparse
import sys

from tests.disturbances.study import study


def main() -> int:
    """Run the study; 1 if anything hung, was falsely good or bad, stayed on, or did not go on."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--disturbances", type=int, default=500)
    parser.add_argument("--seed", type=int, default=0, help="of the first one; each has its own")
    options = parser.parse_args()
    tally = study(options.disturbances, options.seed)
    print("\n".join(tally.lines()))
    return 1 if tally.broken else 0


if __name__ == "__main__":
    sys.exit(main())
