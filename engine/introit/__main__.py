"""`python -m introit` is the command `introit`."""

from introit.cli.main import main

if __name__ == "__main__":
    main()
