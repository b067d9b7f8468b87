"""The command line: ``colophony COMMAND``.

`program` has the group and the entry point, one module a command beside it. Only click is imported
before a command runs, so that help comes at once; a command imports its use case inside its function.
"""

from colophony.app.cli.program import main, program

__all__ = ["main", "program"]
