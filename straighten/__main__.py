"""Run the planner as `python -m straighten`."""

import sys

from straighten.cli import main

sys.exit(main())
