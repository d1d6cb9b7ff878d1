"""The word codes that people say across a room and type: three words of a list and two digits.

The list is our own and was made for this program. We wrote down 1,700 common words, then dropped by hand what is
rude, sad, warlike or hard to spell, and by program every word that sounds like another common word (by the CMU
Pronouncing Dictionary). Of the rest we kept 1,024: no two begin with the same four letters, none begins another, and no
two are within one sound of each other, or within two sounds that are easily confused, such as b and p.

Pure: must never say whether a code is right (server.net.codes does).
"""

import re

WORDS_EACH = 3
"""How many words a code has."""
FIRST_LETTERS = 4
"""A word may be cut to so many letters: no two of the list begin alike."""
LONGEST_CODE = 100
TEACHER = "teacher"
"""The word before a code that lets a teacher in; no code has four words, so it is never one of the code's own."""
_LIST = """
abacus accent account acorn acrobat address admiral adobe advice affair agenda airport alarm album alley almanac
almond alphabet alpine amazing amount amuse anchor animal ankle annual antique antler anvil apart apricot apron arbor
arcade archery arena artist ash aspen assist athlete atlas author autumn average avocado awake award awning backyard
bacon badge bagel bakery balcony ballad bamboo banana bandage banjo barley barn barrel bathtub beacon beagle bean
bedroom bellows belong belt bench bicycle bingo biology bird birthday bison blanket blender blimp block bloom blossom
blouse bluff bobbin bonfire bonnet bonus border bottle bounce bowl box bracelet brain breeze bright broccoli bronze
brook brother brush bubbly bucket budget buffalo bugle building bulb bulldog bundle bungalow bushel business button
buzzer cabbage cabinet cactus cadet cafe calendar camera campus canary candy canoe canvas canyon cape captain caravan
cardinal cargo carnival carousel carpet cartoon cascade cashier castle cattle cavern cedar celery cement century
ceramic certain chain chalk chamber channel chapter charcoal cheese chef cherub chestnut chicken chimney chipmunk
chisel choice chorus chutney cinema circle citrus city civic clamp clarinet classic clay clever cliff clinic clipper
cloak cloth clover clown coach coast cobalt cobra coconut coffee coin collect comedy comfort comma compost concrete
cookie copper coral corner costume cottage cougar council coupon courage cousin cow crab cradle crater crayon credit
crew crimson crisp crocus crop crowd crystal cube cucumber culture cupboard cupcake current curtain curve custard
cutlery cycle dahlia daisy damask dancer daring data dazzle decade decimal deliver denim depot derby design desk
detail detour develop device dialog diamond diary diesel digital dimple diner diploma discover dish distant divide dog
dolphin domino donkey doodle dove dragon drama drawer dream driver duchess duet dune duty dynamo eager earth eastern
eclipse editor egg elastic elbow elder electric elegant elephant elevator elf embassy emblem emerald emu energy engine
enjoy entry envelope episode equal eraser escape essay evening example exchange exhibit exit expand expert explorer
express extra eyebrow fable fabric face factor fairway falcon family famous fancy fanfare farewell farm fashion faster
father faucet feast fedora ferret festival field figure film filter final finch finger firefly fitness flamingo flask
fleece flight flint floor fluffy fluid focus folder folk food forget fork fortune forward fossil fountain fraction
fragile frame freedom fresh friend frigate frog frontier frost frozen fruit fudge full funnel furnace furry fuse
future fuzzy gadget galaxy gallery game gander garage garden garlic garnish gasket gather gazelle gearbox gecko
general genuine geology giant gibbon gift ginger giraffe glance glider globe gnome goblet goldfish golf gondola gopher
grace grammar granite graph gravity greet grill grocery grotto growth guava guess guitar guppy gymnast habit haiku
haircut half hallway halo halt hamlet hammer hamster hand happy harmony harness harp harvest haven hazel headline
heather heavy hedgehog height helium helmet helper heron hexagon hill hinge hippo history hoist holiday holly honey
hook horizon horse hotel house hub humble hunter hurdle husky hydrant iceberg idea igloo iguana image index indigo
insect instant invite iris iron island ivory jacket jaguar jar jasmine jaw jazz jelly jersey jet jewel jigsaw jockey
journal jubilee jumbo jungle kangaroo karate kayak ketchup keyboard keyhole kimono kiosk kiwi koala label ladder
lagoon lake landmark lantern laptop larch laser lasso laundry lavender lawn leaf lecture legend lemon lens lentil
leopard lettuce level library lid lifeboat lilac lime lobby lobster local lookout lotus lounge lucky luggage lullaby
lumber lunar lunch machine magnolia magpie mahogany mailbox major mallet mammoth mango mansion maple marble margin
marigold market marsh marten mascot mask match meadow meal measure melody member memory menu mermaid metal meteor
method midnight milk million mineral minute mirror mitten mixer moat modern molecule moment monkey month moose mosaic
motel mountain movie mug mural museum mushroom music mustard mystery napkin narrow nation nautical navy nectar needle
nephew nest network neutral nickel nimble noble nomad north notebook novel nugget nutmeg nylon oasis oatmeal oboe
ocean octopus odyssey office olive omega onyx opera orange orbit orchid organ origami ostrich otter outdoor oven owl
oxygen oyster pacific paddock painter pajamas palace palm pancake panda panther papaya paprika parade parcel parent
party passport pasta path pattern payment peach peanut pedal pelican pencil pendulum penguin penny people pepper
perfume photo piano picnic picture pigeon pillow pilot pinball pioneer pixel pizza planet plaster plateau plaza plum
plywood podium poet pointer polar polish polka pond popcorn porch portrait postcard potato pottery powder prairie
present pretzel prince prism prize produce program promise public pudding puffin pulley pump pupil purple purse puzzle
pyramid quail quartet quiet quilt quiz rabbit raccoon racket radar radio raft rail rainbow raisin random raven ravine
reason recipe referee regatta region relay report reptile rescue reserve resort rhubarb ribbon riddle ring ripple
river robin robot rocket rodeo roof rooster rope rosemary royal ruby ruler rumble runner rusty saddle safari saffron
sailor salad salmon salute sample sandwich sapphire sardine satin sausage sawdust sawmill scarf school science scout
screen script sculptor seafood season seaweed secret seesaw seminar sequoia sesame shadow shampoo shark shepherd ship
shirt shoe shovel shrimp shuttle sidewalk sign silver skillet skipper slate slipper slope smile smooth snack snail
snapshot snow soccer socket soda soil solo sonata song soup south space spaniel special spider spike spinach spiral
sponge spoon sport sprinkle spruce square squirrel stadium stallion stamp starfish station steam stencil stereo stick
storm stove strand studio sturdy sugar suitcase summer sunset surf surprise swamp sweater swift swim syrup system
tablet taco tadpole talent tango tapestry target tartan taste taxi teacher teapot teaspoon teddy tennis tent terrace
thistle throne thumb thunder ticket tiger timber tin tiptoe tissue title toddler token tomato topaz tornado tower toy
tractor trade traffic travel treasure tree triangle tripod trolley truck trumpet tugboat tulip tuna tunnel turbine
turkey turnip tutor tuxedo twig twist umbrella umpire unicorn uniform union unique unlock upland upstairs urban usher
vacuum vanilla varnish vehicle velvet veranda verdict vessel viaduct victory view village vinegar vintage violet visa
visitor vitamin vivid volcano volume vortex voucher vowel voyage vulture waffle walkway wallet walrus waltz warbler
wardrobe warm wasp watch water wave weasel wedge weekend welcome wheat whisper widget window winter wisdom wizard wolf
wombat woodland workshop world writer yard yearbook yellow young youth zebra zeppelin zigzag zodiac zone
"""
WORDS = tuple(_LIST.split())
_BY_FIRST = {word[:FIRST_LETTERS]: word for word in WORDS}


def bare(text: str) -> str:
    """Return the letters and digits of a code, in lower case.

    >>> bare(" Maple otter-LEMON 07")
    'mapleotterlemon07'
    """
    return re.sub(r"[^a-z0-9]", "", text.lower())


def readings(typed: str) -> frozenset[str]:
    """Return the codes that somebody may mean, as bare text; none if it cannot be a code of ours.

    Case, dashes and spaces do not count, not even missing ones, and a word's first four letters stand for it.

    >>> readings("MAPL otte lemon 07") == readings("mapleotterlemon07") == {"mapleotterlemon07"}
    True
    >>> readings("maple otter 07")
    frozenset()
    """
    if len(typed) > LONGEST_CODE:
        return frozenset()
    parts = re.fullmatch(r"([a-z]+)([0-9]{2})", bare(typed))
    if not parts:
        return frozenset()
    letters, digits = parts.groups()
    apart = re.findall(r"[a-z]+", typed.lower())
    if len(apart) == WORDS_EACH and all(word[:FIRST_LETTERS] in _BY_FIRST for word in apart):
        return frozenset({"".join(_BY_FIRST[word[:FIRST_LETTERS]] for word in apart) + digits})
    return frozenset("".join(words) + digits for words in _split(letters, WORDS_EACH))


def one_reading(typed: str) -> str:
    """Return a code as bare text however it was typed, or, if it is none of ours, its letters and digits."""
    found = readings(typed)
    return next(iter(found)) if len(found) == 1 else bare(typed)


def teachers_code(typed: str) -> str | None:
    """Return the code that follows the word "teacher", as a desk shows it for teachers; None for any other code.

    >>> teachers_code("Teacher maple-otter-lemon-07")
    'maple-otter-lemon-07'
    >>> teachers_code("teacher-otter-lemon-07") is None
    True
    """
    parts = re.fullmatch(rf"\s*{TEACHER}[\s-]*(.+)", typed, re.IGNORECASE)
    return parts[1].strip() if parts and not readings(typed) and readings(parts[1]) else None


def _split(letters: str, words: int) -> list[tuple[str, ...]]:
    """Return every way to read letters as so many words, each whole or cut to four letters or more."""
    if not words:
        return [] if letters else [()]
    found: list[tuple[str, ...]] = []
    for length in (FIRST_LETTERS - 1, FIRST_LETTERS):
        word = _BY_FIRST.get(letters[:length])
        if word and len(letters) >= length:
            for end in range(length, len(word) + 1):
                if letters.startswith(word[:end]):
                    found += [(word, *rest) for rest in _split(letters[end:], words - 1)]
    return found
