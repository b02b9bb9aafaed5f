"""The page of numbers is fresh and complete."""

from pathlib import Path

from shipwindow.settings.load import default_layers
from shipwindow.settings.numbers import main, numbers_page
from shipwindow.settings.packed import config_folder, fixtures_folder
from shipwindow.settings.reader import STATUSES

PAGE = Path(__file__).resolve().parents[2] / "docs" / "numbers.md"


def test_the_page_in_the_docs_is_fresh() -> None:
    assert PAGE.read_text(encoding="utf-8") == numbers_page(), (
        "run: python -m shipwindow.settings.numbers docs/numbers.md"
    )


def test_every_number_has_its_row(tmp_path: Path) -> None:
    main([str(tmp_path / "numbers.md")])
    page = (tmp_path / "numbers.md").read_text(encoding="utf-8")
    numbers = [n for layer in default_layers() for n in layer.origin.values() if n.status in STATUSES]
    assert sum(line.startswith("| `") for line in page.splitlines()) == len(numbers)
    assert len(numbers) > 300
    assert "| `late.ordinary` | 0.04 | 0.02 to 0.06 | engineering-choice |" in page


def test_the_data_folders_are_found() -> None:
    assert (config_folder() / "shop.toml").is_file()
    assert fixtures_folder().name in {"fixtures", "_fixtures"}
