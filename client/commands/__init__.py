"""The commands, one module each, with add_arguments(parser) and run(args) -> exit code.

A module must never import anything slow at its head: `racktempo --help` and a wrong option answer at once.
"""
