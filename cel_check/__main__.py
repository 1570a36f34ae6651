"""`python -m cel_check` is the same as `cel-check`."""

from cel_check.cli.main import main

if __name__ == "__main__":
    main()
