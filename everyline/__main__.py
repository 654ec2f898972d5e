"""Where the program begins: Ctrl-C is answered from the first moment on, before anything else is imported."""

import sys


def main() -> int:
    """Run the command line; answers the exit code."""
    try:
        from everyline.cli.main import main as run
    except KeyboardInterrupt:
        sys.stderr.write("everyline: stopped.\n")
        return 130
    return run()


if __name__ == "__main__":
    sys.exit(main())
