"""racktempo without a command: the home screen."""

import argparse


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take no options."""


def run(args: argparse.Namespace) -> int:
    """Show the home screen."""
    from client.tui.ports import AtHome
    from client.tui.run import show

    return show(AtHome(), "")
