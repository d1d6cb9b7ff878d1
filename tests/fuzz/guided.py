"""The same targets under a fuzzer that is guided by coverage: python -m tests.fuzz.guided TARGET [-max_total_time=60].

It needs atheris, which is no dependency of the project (pip install atheris); options are libFuzzer's.
"""

import os
import sys
import tempfile
from pathlib import Path

import atheris  # type: ignore[import-not-found]

with atheris.instrument_imports(include=["shared", "server", "client"]):
    from tests.fuzz.targets import targets


def main() -> None:
    """Fuzz until libFuzzer is content; what comes out besides a refusal ends it with a trace."""
    os.environ["XDG_CONFIG_HOME"] = folder = tempfile.mkdtemp()
    (Path(folder) / "racktempo").mkdir()
    (target,) = (target for target in targets(Path(folder)) if target.name == sys.argv[1])
    seeds = Path(folder) / "seeds"
    seeds.mkdir()
    for number, data in enumerate(target.corpus):
        (seeds / str(number)).write_bytes(data)
    atheris.Setup([sys.argv[0], str(seeds), *sys.argv[2:]], lambda data: target.read(data) and None)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
