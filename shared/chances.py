"""Chances in words. Pure."""


def in_hundred(points: float) -> str:
    """Return a chance in percent as it is said everywhere: "41 in 100"."""
    return f"{points:.0f} in 100" if points >= 0.5 else "less than 1 in 100"
