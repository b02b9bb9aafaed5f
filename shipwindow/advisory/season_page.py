"""The season sheet as one self-contained page, and the set of files a folder gets.

For: a page that opens from disk, prints in black and white, and reads on a telephone. Must not know: how shares are
counted. Neighbours: ``season_picture`` (the heat map), ``season_text`` (words and CSV), ``templates/season.html``.
"""

from __future__ import annotations

from pathlib import Path

from shipwindow.advisory.pages import page
from shipwindow.advisory.season import MONTH_NAMES, SeasonPlace, SeasonSheet
from shipwindow.advisory.season_picture import lay_out, scale_layout, season_png, season_svg
from shipwindow.advisory.season_text import heading, legend, season_csv, share_number
from shipwindow.store import write_set_atomically


def season_html(sheet: SeasonSheet) -> str:
    """Write the page."""
    from markupsafe import Markup

    pictures = {place.place: Markup(_map(place)) for place in sheet.places if place.covered}  # noqa: S704 - our drawing
    said = (caution for place in sheet.places for caution in place.cautions)
    return page(
        "season.html",
        sheet=sheet,
        heading=heading(sheet),
        legend=legend(sheet),
        scale=Markup(season_svg(scale_layout(), "Scale: the darker, the more days")),  # noqa: S704 - our own drawing
        pictures=pictures,
        months=MONTH_NAMES,
        number=share_number,
        cautions=tuple(dict.fromkeys((*sheet.notes, *said, *sheet.cautions))),
    )


def _map(place: SeasonPlace) -> str:
    return season_svg(lay_out(place), f"Share of days by month to {place.place}; the table says the same")


def write_season(sheet: SeasonSheet, folder: Path) -> tuple[Path, ...]:
    """Write season.csv, .json, .png and .html into a folder, whole or not at all."""
    contents: dict[str, str | bytes] = {
        "season.csv": season_csv(sheet),
        "season.json": sheet.model_dump_json(indent=2) + "\n",
        "season.png": season_png(sheet),
        "season.html": season_html(sheet),
    }
    write_set_atomically(folder, contents)
    return tuple(folder / name for name in contents)
