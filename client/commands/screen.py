"""Opening the full-screen client, for every command that has a screen; no command itself."""

from pathlib import Path

from client.doors import Doors, Start
from shared.messages import PORT


def show(start: Start, name: str, port: int = PORT, folder: Path | None = None) -> int:
    """Run the full screen from where it is to start until the player quits; heats are kept in folder if named."""
    from client.app import RacktempoApp
    from client.joining import open_join
    from client.shelf import disk_shelf
    from client.solo import open_host, open_solo

    doors = Doors(solo=open_solo, host=open_host, join=open_join)
    RacktempoApp(doors, start, name=name, port=port, shelf=disk_shelf(folder)).run()
    return 0
