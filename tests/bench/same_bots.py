"""Whether bots answer the same passes in the same way on every machine: prints a digest of all that happened.

    python -m tests.bench.same_bots --sets 4

The digests must be the same under every version of Python and with every set of instructions. The environment takes
most instructions away: OPENBLAS_CORETYPE=Prescott NPY_DISABLE_CPU_FEATURES="X86_V3 X86_V4 AVX512_ICL AVX512_SPR".
Needs numpy, pydantic and msgpack only.
"""

import argparse
import hashlib
import sys
from typing import get_args

import numpy as np

from shared.rules.heat import HEAT
from shared.rules.set_result import bare
from shared.rules.settings import Settings
from tests.take_home import SETTINGS, made, played

SKILLS = get_args(Settings.model_fields["bot_skill"].annotation)


def main() -> None:
    """Play sets with each kind of bot and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=4)
    parser.add_argument("--skill", choices=SKILLS, action="append")
    args = parser.parse_args()
    print(f"Python {sys.version.split()[0]}, numpy {np.__version__}")
    for skill in args.skill or SKILLS:
        for incoming in ("wall", "racks"):
            digest, answers = hashlib.sha256(), 0
            for seed in range(args.sets):
                chosen = {"bot_skill": skill, "incoming": incoming, "plan": True, "heats": 2}
                taken = made(Settings.model_validate({**SETTINGS.model_dump(), **chosen}), seed)
                for heat in played(taken, seed):
                    packed = HEAT.unpack(bare(heat))
                    answers += sum(getattr(event, "by", "") == "bot" for event in packed.events)
                    digest.update(repr(packed.events).encode())
            print(f"{skill}, tiles from {incoming}: {answers} answers, {digest.hexdigest()[:16]}", flush=True)


if __name__ == "__main__":
    main()
