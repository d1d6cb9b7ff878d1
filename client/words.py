"""Breaking words into lines of so many terminal cells. Pure."""

from rich.cells import cell_len


def wrapped(text: str, width: int) -> list[str]:
    """Return the text in lines of at most so many cells, broken between words."""
    lines, line = list[str](), ""
    for word in text.split():
        if line and cell_len(line) + 1 + cell_len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line] if line else lines
