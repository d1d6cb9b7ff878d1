import tomllib

import pytest
from rich.color import Color, ColorSystem

from client.theme import (
    _LIGHT_GROUNDS,
    _ON_DARK,
    _ON_LIGHT,
    GROUNDS,
    Ground,
    Look,
    Role,
    Theme,
    colour,
    contrast,
    read_look,
    write_look,
)

TILE_ROLES = ("bam", "crak", "dot", "honour", "flower", "joker", "edge")
TEXT_ROLES = ("text", "quiet", "line", "mark", "good", "warn", "alarm")


def test_contrast_agrees_with_published_pairs() -> None:
    """The contrast formula of WCAG 2.2 (relative luminance), on pairs whose ratios are widely published."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#0000ff", "#ffffff") == pytest.approx(8.59, abs=0.005)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def drawn_pairs() -> list[tuple[Theme, Role, Ground]]:
    """Every role on every ground that it is drawn on: tile roles on tiles, the others on everything but tiles."""
    pairs: list[tuple[Theme, Role, Ground]] = []
    for theme, grounds in GROUNDS.items():
        for ground in grounds:
            is_tile = ground in ("face", "lifted")
            roles = (*TILE_ROLES, "text") if is_tile else ("text",) if ground in ("chosen", "button") else TEXT_ROLES
            pairs += [(theme, role, ground) for role in roles]  # type: ignore[misc]
    return pairs


@pytest.mark.parametrize(("theme", "role", "ground"), drawn_pairs())
def test_all_text_stands_out_from_its_ground(theme: Theme, role: Role, ground: Ground) -> None:
    assert contrast(colour(theme, role, ground), GROUNDS[theme][ground]) >= 4.5


def test_no_blue_text_on_dark() -> None:
    for ink in _ON_DARK.values():
        red, green, blue = (int(ink[at : at + 2], 16) for at in (1, 3, 5))
        assert blue <= max(red, green) + 24, f"{ink} is blue"


def test_light_grounds_are_light_and_dark_ones_dark() -> None:
    for theme, grounds in GROUNDS.items():
        for ground, value in grounds.items():
            assert (contrast(value, "#000000") > contrast(value, "#ffffff")) == (ground in _LIGHT_GROUNDS[theme])


def test_every_tile_colour_is_known_on_light_grounds() -> None:
    assert set(TILE_ROLES) <= set(_ON_LIGHT)


@pytest.mark.parametrize("look", [Look(), Look("light", True, True, True), Look(calm=True)])
def test_a_look_survives_being_kept(look: Look) -> None:
    assert read_look(tomllib.loads(write_look(look))) == look


def test_a_spoilt_look_keeps_the_defaults() -> None:
    assert read_look({"theme": "pink", "ascii": "yes", "calm": True, "nonsense": 4}) == Look(calm=True)


def test_suits_flowers_and_jokers_keep_colours_of_their_own_in_a_terminal_of_sixteen() -> None:
    for theme in ("dark", "light"):
        inks = [
            Color.parse(colour(theme, role, "face")) for role in ("bam", "crak", "dot", "flower", "joker", "honour")
        ]
        named = [ink.downgrade(ColorSystem.STANDARD).number for ink in inks]
        assert len(set(named)) == len(named), (theme, named)
