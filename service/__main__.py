"""`python -m service` is the `limitwitness` command."""

import sys

from service.command_line import main

sys.exit(main())
