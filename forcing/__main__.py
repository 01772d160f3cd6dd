"""`python -m forcing`."""

from forcing.cli import main

if __name__ == "__main__":
    main()
