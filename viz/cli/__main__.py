"""`python -m viz.cli` is the command itself."""

from viz.cli.entry import main

if __name__ == "__main__":
    main()
