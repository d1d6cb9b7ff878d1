"""The commands of the command line, one module each with add_arguments(parser) and run(args) -> exit code."""
