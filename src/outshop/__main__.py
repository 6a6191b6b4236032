"""Run the command line with ``python -m outshop``."""

from outshop.cli.main import main

if __name__ == "__main__":
    main()
