"""racktempo clock: the shared clock for people who have real tiles on a table."""

import argparse

from client.arguments import settings_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take what shapes a set."""
    parser.add_argument("--level", metavar="M:SS", help="time for a whole Charleston, such as 2:00")
    parser.add_argument("--heats", metavar="N", help="heats in a set, 1 to 12")
    parser.add_argument("--preset", metavar="NAME", help="settings kept under this name")
    parser.add_argument("--bell", action="store_true", help="one bell when the time of a step is up")
    # No tiles are dealt here, so that there is no seed to choose.
    parser.set_defaults(seed=None)


def run(args: argparse.Namespace) -> int:
    """Show the clock until the player quits."""
    settings = settings_of(args)
    import datetime
    import secrets
    from dataclasses import replace
    from pathlib import Path

    from client import app
    from client.doors import Doors
    from client.history import history_path
    from client.joining import open_join
    from client.real_tiles import keeper
    from client.screens.real_tiles import RealTilesScreen
    from client.shelf import disk_shelf
    from client.solo import open_host, open_solo

    def stamp() -> str:
        return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")

    class ClockApp(app.RacktempoApp):
        """The client, beginning at the clock; leaving the clock leads home."""

        # A subclass looks for its styles beside its own module otherwise.
        CSS_PATH = str(Path(app.__file__).with_name("racktempo.tcss"))

        def on_ready(self) -> None:
            if args.bell:
                self.look = replace(self.look, bell=True)
            keep = keeper(history_path(), settings, secrets.token_hex(8))
            self.push_screen(RealTilesScreen(settings, keep, stamp))

    ClockApp(Doors(solo=open_solo, host=open_host, join=open_join), shelf=disk_shelf()).run()
    return 0
