"""``python -m stallkeep.cli``."""

import sys

from stallkeep.cli.main import main

sys.exit(main())
