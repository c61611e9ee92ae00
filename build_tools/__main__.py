"""`python3 -m build_tools`: refuses a Python that is too old, before it reads a line it cannot read."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - it is there for the Pythons that are outdated
    sys.stderr.write(
        f"build_tools: needs Python 3.11 or newer, this is {sys.version.split()[0]} ({sys.executable})\n"
        "  mend: install a newer Python and call it by name, for instance: python3.11 -m build_tools serve\n"
    )
    sys.exit(3)
else:
    from build_tools.cli.command_line import main

    sys.exit(main(sys.argv[1:]))
