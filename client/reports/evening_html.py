"""An evening as one self-contained HTML page: standings and plots, for screens and two sheets of paper.

Must never load a script, a font or anything else; the page's content security policy forbids it. Names are cleaned,
escaped and isolated from the direction of the text around them. Follows the reader's light or dark theme; paper is
always light. Pure: returns text.
"""

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from html import escape
from statistics import median

from client.reports.svg_plots import Column, Dot, columns_plot, plane_plot
from client.theme import GROUNDS, Theme, colour
from shared.measures.standings import MEASURES, Guest, Measure, Played, Standings, StandingsRow, rows_of, standings
from shared.names import clean_name
from shared.rules.steps import STEP_NAMES

_STYLE = """
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 62rem; background: var(--page); color: var(--text);
  font: 14px/1.35 system-ui, sans-serif; }
h1 { font-size: 1.6em; margin: 0; }
h2 { font-size: 1.1em; margin: 0 0 .3em; color: var(--mark); }
p { margin: .3em 0 .8em; }
.quiet, caption, th { color: var(--quiet); }
.tables { display: grid; grid-template-columns: repeat(auto-fit, minmax(20rem, 1fr)); gap: 1rem 2rem; }
section { break-inside: avoid; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-size: .85em; padding-bottom: .3em; }
th { font-weight: normal; }
th, td { text-align: right; padding: .1em .4em; white-space: nowrap; }
td { border-top: 1px solid var(--grid); }
th:nth-child(2), td:nth-child(2) { text-align: left; width: 100%; }
h3 { font-size: 1em; margin: .8em 0 .2em; }
b { display: inline-block; min-width: 1.6em; margin-right: .15em; padding: 0 .2em; text-align: center;
  border: 1px solid var(--grid); border-radius: .2em; }
svg { display: block; width: 100%; height: auto; font-size: 11px; }
svg text { fill: var(--text); }
.middle-of { text-anchor: middle; } .end-at { text-anchor: end; }
.grid { stroke: var(--grid); }
.dot { fill: var(--dot); }
.length { stroke: var(--warn); stroke-width: 2; stroke-dasharray: 6 3; }
.middle { stroke: var(--text); stroke-width: 3; }
@page { size: A4; margin: 12mm; }
@media print {
  :root { --page: #ffffff; }
  body { max-width: none; padding: 0; font-size: 8.5pt; }
  .tables { grid-template-columns: 1fr 1fr; }
  .sheet + .sheet { break-before: page; }
  td, th { padding: .05em .4em; line-height: 1.25; }
}
"""


def evening_page(title: str, when: str, evening: Iterable[Played], least: int = 1, more: str = "") -> str:
    """Return the page. title is the name of the club or table, when a date for people to read; a place in the standings
    needs least heats; more is HTML that comes last, on the page of people who each played alone.

    An evening of up to 24 people fits two sheets of A4.
    """
    every = tuple(evening)
    result = standings(every, least)
    shown, day = escape(clean_name(title, "An evening", 40)), escape(clean_name(when, "", 40))
    heats = len({one.heat for one in every})
    tables = "" if more else f"{_count(len({one.table for one in every}), 'table')}, "
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{shown}</title>
<style>
:root {{ {_colours("light")} }}
@media screen and (prefers-color-scheme: dark) {{ :root {{ {_colours("dark")} }} }}
{_STYLE}</style>
</head>
<body>
<main>
<div class="sheet">
<h1>{shown}</h1>
<p class="quiet">{day}{" · " if day else ""}{tables}{_count(heats, "heat")}, \
{_count(len(result.guests), "person", "people")}</p>
<div class="tables">
{_standing_tables(result)}
</div>
</div>
<div class="sheet">
{_plots(every, result)}
</div>
{f'<div class="sheet">{more}</div>' if more else ""}
</main>
</body>
</html>
"""


def _colours(theme: Theme) -> str:
    roles = {role: colour(theme, role, "page") for role in ("text", "quiet", "mark", "warn")}
    own = {"page": GROUNDS[theme]["page"], "grid": GROUNDS[theme]["button"], "dot": _DOTS[theme]}
    return " ".join(f"--{name}: {value};" for name, value in (roles | own).items())


_DOTS: dict[Theme, str] = {"light": "#0072b2", "dark": "#56b4e9"}
"""Blue and sky blue of the Okabe-Ito palette; both have the contrast of 3 to 1 that shapes need (WCAG 2.2, 1.4.11)."""


def _standing_tables(result: Standings) -> str:
    return "\n".join((*(_standing(measure, rows_of(result, measure)) for measure in MEASURES), _people(result.guests)))


_HEADS: Mapping[str, Sequence[str]] = {
    "speed": ("used", "a heat"),
    "loss": ("a pass", "passes"),
    "points": ("part", "beaten", "of"),
}


def _cells(measure: Measure, line: StandingsRow) -> Sequence[str]:
    """Return the value of a line, and what it is made of."""
    value = measure.said(float(line.value) / (1_000 if measure.key == "loss" else 1))
    match measure.key:
        case "speed":
            return value, f"{float(line.amount) / line.heats / 1000:.1f} s"
        case "loss":
            return value, str(line.of)
    return value, _halves(line.amount), str(line.of)


def _standing(measure: Measure, lines: Sequence[StandingsRow]) -> str:
    title, rule = measure.title.capitalize(), f"{measure.better.capitalize()} is better. {measure.rule}"
    if not lines:
        return f"<section><h2>{title}</h2><p>{rule}</p><p>Nothing to compare yet.</p></section>"
    rows = [
        (
            f"{line.place}{'=' if line.tied else ''}" if line.place else "",
            line.name,
            *_cells(measure, line),
            str(line.heats),
        )
        for line in lines
    ]
    first_below = next((number for number, line in enumerate(lines) if not line.place), None)
    return _table(title, rule, ("", "name", *_HEADS[measure.key], "heats"), rows, first_below)


def _people(guests: Sequence[Guest]) -> str:
    rows = [
        ("", guest.name, str(guest.heats), str(guest.in_time), str(guest.timeouts), str(guest.with_bot))
        for guest in guests
    ]
    rule = "Heats in which a bot played for somebody do not count in the standings."
    return _table("Everybody", rule, ("", "name", "heats", "in time", "timeouts", "with a bot"), rows)


def _table(
    title: str, rule: str, heads: Sequence[str], rows: Sequence[Sequence[str]], first_below: int | None = None
) -> str:
    head = "".join(f'<th scope="col">{one}</th>' for one in heads)
    lines = [f"<tr>{''.join(_cell(number, text) for number, text in enumerate(row))}</tr>" for row in rows]
    if first_below is not None:
        lines.insert(
            first_below,
            f'<tr><td></td><td class="quiet">too few heats for a place</td>{"<td></td>" * (len(heads) - 2)}</tr>',
        )
    body = "\n".join(lines)
    return (
        f"<section><h2>{title}</h2>\n<table><caption>{rule}</caption>\n<thead><tr>{head}</tr></thead>\n"
        f"<tbody>\n{body}\n</tbody></table></section>"
    )


def _cell(number: int, text: str) -> str:
    return f"<td><bdi>{_name(text)}</bdi></td>" if number == 1 else f"<td>{text}</td>"


def _name(text: str) -> str:
    return escape(clean_name(text, "?"))


def _plots(every: Sequence[Played], result: Standings) -> str:
    columns = _columns(every)
    by_step = columns_plot(columns, "Seconds by step against the level", "s") if columns else "<p>No heat yet.</p>"
    loss = {line.person: line for line in result.loss}
    dots = [
        Dot(clean_name(line.name, "?"), float(line.value) * 100, float(loss[line.person].value) / 1000)
        for line in result.speed
        if line.person in loss
    ]
    plane = (
        plane_plot(dots, "Time used against points lost", "time used, in percent", "points lost a pass", 100)
        if dots
        else "<p>No heat has been reviewed yet, so there are no points lost to show.</p>"
    )
    return "\n".join(
        (
            "<section><h2>Seconds by step against the level</h2>",
            "<p class='quiet'>A dot is one person's step, the bar the median, the dashed line the step's length. "
            "Seats that a bot played are left out.</p>",
            f"{by_step}</section>",
            "<section><h2>Time used against points lost</h2>",
            "<p class='quiet'>Left is fast, low is good. The dashed line is the whole level.</p>",
            f"{plane}</section>",
        )
    )


def _columns(every: Sequence[Played]) -> list[Column]:
    """Collect the seconds of each step; if tables had different lengths, draw the median length."""
    columns = []
    played = sorted((one for one in every if not one.bot), key=lambda one: (one.heat, one.table, one.seat))
    for step in STEP_NAMES:
        spent = [one for heat in played for one in heat.spent if one.step == step]
        if spent:
            seconds = tuple(one.spent_ms / 1000 for one in spent)
            length = median(one.length_ms for one in spent) / 1000
            columns.append(Column(step, seconds, median(seconds), length))
    return columns


def _halves(amount: Fraction) -> str:
    """Return a number of matchpoints, with halves."""
    whole, rest = divmod(amount, 1)
    return f"{whole}½" if rest and whole else "½" if rest else str(whole)


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"
