"""What a station's record holds, in sentences: said by the command and on the page where it was taken in."""

from app.core.dates.record import FEWEST_YEARS, FEWEST_YEARS_UNWARNED
from app.language import _, ngettext
from app.services.record import HalfSummary, RecordSummary
from app.sheets.words import AUTUMNS, SPRINGS, count_words, day_year, list_words, number_words

MOST_RUNS = 12


def record_lines(summary: RecordSummary) -> list[str]:
    """Return what a record holds, a sentence each: its days, the years that count, those left out and why."""
    days = {
        "days": count_words(summary.days, "day", "days"),
        "first": day_year(summary.first_on),
        "last": day_year(summary.last_on),
    }
    if summary.missing:
        missing = count_words(summary.missing, "day", "days")
        lines = [_("%(days)s from %(first)s to %(last)s; %(missing)s between them missing.", missing=missing, **days)]
    else:
        lines = [_("%(days)s from %(first)s to %(last)s.", **days)]
    if not summary.days_tmax:
        lines.append(_("There are no highest temperatures, so no chances by warmth can be worked out."))
    for years, half in ((SPRINGS, summary.spring), (AUTUMNS, summary.autumn)):
        lines += _half_lines(years, half)
    return [*lines, *_warnings(summary), *summary.notes]


def _half_lines(years: tuple[str, str], half: HalfSummary) -> list[str]:
    many = ngettext(*years, 2)
    lines = [_("%(seasons)s can be used.", seasons=count_words(half.usable, *years))]
    if half.incomplete:
        lines.append(
            _(
                "Left out, with ten or more days missing between midsummer and the freeze: %(seasons)s %(years)s.",
                seasons=many,
                years=year_words(half.incomplete),
            )
        )
    if half.without_freeze:
        lines.append(_("Without a freeze: %(seasons)s %(years)s.", seasons=many, years=year_words(half.without_freeze)))
    return lines


def _warnings(summary: RecordSummary) -> list[str]:
    fewest = min(summary.spring.usable, summary.autumn.usable)
    if fewest < FEWEST_YEARS:
        return [
            _(
                "These are too few years for frost dates: it takes %(years)s. Enter a published table instead, and "
                "keep the record until it has grown.",
                years=FEWEST_YEARS,
            )
        ]
    if fewest < FEWEST_YEARS_UNWARNED:
        return [
            _(
                "These are few years: below %(years)s the dates may be off by a week or more.",
                years=FEWEST_YEARS_UNWARNED,
            )
        ]
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
        return _("%(years)s and %(count)s more", years=", ".join(words[:MOST_RUNS]), count=number_words(rest))
    return list_words(words)
