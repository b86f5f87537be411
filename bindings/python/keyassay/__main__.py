"""`python -m keyassay` is the program."""

import sys

from ._program import main

sys.exit(main())
