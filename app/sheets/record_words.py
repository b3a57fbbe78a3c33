"""What a station's record holds, in sentences: said by the command and on the page where it was taken in."""

from app.core.dates.record import FEWEST_YEARS, FEWEST_YEARS_UNWARNED
from app.services.record import HalfSummary, RecordSummary
from app.sheets.words import count_words, day_year, list_words, number_words

MOST_RUNS = 12


def record_lines(summary: RecordSummary) -> list[str]:
    """Return what a record holds, a sentence each: its days, the years that count, those left out and why."""
    days = (
        f"{count_words(summary.days, 'day', 'days')} from {day_year(summary.first_on)} to {day_year(summary.last_on)}"
    )
    missing = f"; {count_words(summary.missing, 'day', 'days')} between them missing" if summary.missing else ""
    lines = [f"{days}{missing}."]
    if not summary.days_tmax:
        lines.append("There are no highest temperatures, so no chances by warmth can be worked out.")
    for name, half in (("spring", summary.spring), ("autumn", summary.autumn)):
        lines += _half_lines(name, half)
    return [*lines, *_warnings(summary), *summary.notes]


def _half_lines(name: str, half: HalfSummary) -> list[str]:
    many = f"{name}s"
    lines = [f"{count_words(half.usable, name, many)} can be used."]
    if half.incomplete:
        left_out = year_words(half.incomplete)
        lines.append(f"Left out, with ten or more days missing between midsummer and the freeze: {many} {left_out}.")
    if half.without_freeze:
        lines.append(f"Without a freeze: {many} {year_words(half.without_freeze)}.")
    return lines


def _warnings(summary: RecordSummary) -> list[str]:
    fewest = min(summary.spring.usable, summary.autumn.usable)
    if fewest < FEWEST_YEARS:
        few = f"These are too few years for frost dates: it takes {FEWEST_YEARS}."
        return [f"{few} Enter a published table instead, and keep the record until it has grown."]
    if fewest < FEWEST_YEARS_UNWARNED:
        return [f"These are few years: below {FEWEST_YEARS_UNWARNED} the dates may be off by a week or more."]
    return []


def year_words(years: tuple[int, ...]) -> str:
    """Return years with runs drawn together, as `1982, 1990 – 1993 and 2001`; many runs are cut short."""
    runs: list[list[int]] = []
    for year in years:
        if runs and year == runs[-1][-1] + 1:
            runs[-1].append(year)
        else:
            runs.append([year])
    words = [f"{run[0]}" if len(run) == 1 else f"{run[0]} – {run[-1]}" for run in runs]
    if len(words) > MOST_RUNS:
        rest = sum(len(run) for run in runs[MOST_RUNS:])
        return f"{', '.join(words[:MOST_RUNS])} and {number_words(rest)} more"
    return list_words(words)
