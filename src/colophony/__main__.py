"""``python -m colophony``: the command line, for where the script is not on the path."""

from colophony.app.cli import main

main()
