"""The short word code that lets people in: two words and a number, easy to say across a room.

There are 256 x 256 x 100 codes (22.6 bits). That is enough only because every wrong guess makes the next one
slower, which Guesses keeps.
"""

import hmac
import ipaddress
import re
from collections import OrderedDict

from shared.rules.wall import Stream

_PLAIN_WORDS = """
acorn alder amber anchor anvil apple apron arbor arrow aspen atlas attic badge bagel baker bamboo banjo
barge barn basil basin basket beach beacon beetle bell berry birch biscuit blanket blossom bonnet border
bottle branch bread breeze brick bridge brook broom brush bucket buckle bugle butter button cabin cactus
camel candle canoe canvas carpet carrot castle cedar cellar chalk cherry chess chisel cider circle clover
coast cobalt cocoa comet copper coral corner cotton cradle crane crayon cricket cuckoo curtain dahlia dairy
daisy dancer dawn delta denim desert journal dolphin donkey dragon drum dune eagle easel echo elbow elder
ember engine falcon feather fern ferry fiddle field finch flagon flame flute forest fossil fountain fox
galley garden garlic ginger glacier glider globe goblet granite grape gravel guitar hammer hammock harbour
harvest hazel hedge helmet herald holly honey hopper igloo indigo iris island ivory jacket jasmine jelly
jigsaw juniper kayak kettle kitten kiwi ladder lagoon lantern lark lemon lentil lilac linen lobster locket
lotus magnet mango maple marble marigold meadow melon mitten monsoon mosaic muffin mustard nectar needle
nickel noodle nutmeg oasis ocean olive onion opal orchid otter oven paddle palace panda paper parrot pebble
pepper piano pickle pillow pilot planet plum pocket pony poppy prairie pretzel pumpkin puzzle quartz quill
quilt rabbit radish raft raisin ribbon river robin rocket rudder saddle saffron sandal satchel scarf shovel
silver sparrow spoon squash stable summit sunset tailor teapot thimble thistle ticket timber tomato trumpet
tulip tunnel turnip umbrella valley velvet violet voyage waffle wagon walnut willow window winter yarrow
zephyr
"""
WORDS = tuple(_PLAIN_WORDS.split())


def make_code(random: bytes) -> str:
    """Return a code from at least 16 random bytes, such as "maple-kettle-07"; each is equally likely."""
    stream = Stream(random, "code")
    first, second = WORDS[stream.below(len(WORDS))], WORDS[stream.below(len(WORDS))]
    return f"{first}-{second}-{stream.below(100):02}"


def same_code(typed: str, code: str) -> bool:
    """Say whether a typed code is meant to be this one: case, spaces and dashes do not count."""
    return hmac.compare_digest(_bare(typed), _bare(code))


def _bare(code: str) -> bytes:
    return re.sub(r"[^a-z0-9]", "", code.lower()).encode()


class Guesses:
    """Wrong codes by address. Every one makes the next try from there wait longer; ten quiet minutes forget them."""

    FIRST_MS, LONGEST_MS, FORGET_MS, REMEMBERED = 250, 5_000, 600_000, 4_096

    def __init__(self) -> None:
        self.total = 0
        self._wrong: OrderedDict[str, tuple[int, int]] = OrderedDict()

    def wait_ms(self, address: str, now_ms: int) -> int:
        """Return how long a try from this address has to wait, right or wrong."""
        count, last_ms = self._wrong.get(_group(address), (0, 0))
        if not count or now_ms - last_ms > self.FORGET_MS:
            return 0
        return min(self.FIRST_MS << min(count - 1, 16), self.LONGEST_MS)

    def wrong(self, address: str, now_ms: int) -> None:
        """Count a wrong code."""
        count = 0 if not self.wait_ms(address, now_ms) else self._wrong[_group(address)][0]
        self._wrong[_group(address)] = (count + 1, now_ms)
        self._wrong.move_to_end(_group(address))
        self.total += 1
        if len(self._wrong) > self.REMEMBERED:
            self._wrong.popitem(last=False)


def _group(address: str) -> str:
    """Return the address, or the network of 2^64 addresses that one IPv6 machine can usually choose from."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if parsed.version == 6 and not parsed.ipv4_mapped:
        return str(ipaddress.ip_network((parsed, 64), strict=False))
    return str(parsed)
