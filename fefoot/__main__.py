"""The command line as ``python -m fefoot``."""

import sys

from .cli import main

sys.exit(main())
