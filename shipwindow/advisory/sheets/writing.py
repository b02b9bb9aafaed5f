"""Put the packer's paper under OUT/YYYY-MM-DD/, whole or not at all.

For: ``write_sheets``. Must not know: how a sheet is made. Neighbours: the writers, ``store`` (atomic replacement).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from shipwindow.advisory.sheets.as_html import as_html
from shipwindow.advisory.sheets.as_pdf import as_pdf
from shipwindow.advisory.sheets.labels_pdf import bag_labels_pdf, carton_labels_pdf
from shipwindow.advisory.sheets.record import Sheets
from shipwindow.settings.desk_paper import Labels
from shipwindow.store import write_set_atomically


@dataclass(frozen=True)
class Written:
    """The files, and what could not be printed as it should."""

    paths: tuple[Path, ...]
    told: tuple[str, ...]


def write_sheets(sheets: Sheets, labels: Labels, out: Path, skip: int = 0) -> Written:
    """Write sheets.pdf, bag-labels.pdf, carton-labels.pdf, sheets.html and sheets.json; running again replaces them.

    Everything is rendered before the first file is touched. The JSON goes last: once it is there, the set is complete.
    """
    pdf, missing = as_pdf(sheets)
    bags, told = bag_labels_pdf(sheets, labels, skip)
    cartons, more = carton_labels_pdf(sheets)
    contents: dict[str, str | bytes] = {
        "sheets.pdf": pdf,
        "bag-labels.pdf": bags,
        "carton-labels.pdf": cartons,
        "sheets.html": as_html(sheets),
        "sheets.json": sheets.model_dump_json(indent=2) + "\n",
    }
    folder = out / sheets.day.isoformat()
    write_set_atomically(folder, contents)
    letters = (f"no font here has {' '.join(missing)}: printed as □ on the sheets",) if missing else ()
    return Written(tuple(folder / name for name in contents), tuple(dict.fromkeys((*letters, *told, *more))))
