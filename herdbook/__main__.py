"""`python3 -m herdbook`: make the checkout's environment where it is missing, then run in it."""

import sys

from herdbook._setup import enter

if __name__ == "__main__":
    enter()
    from herdbook.app.main import main

    sys.exit(main())
