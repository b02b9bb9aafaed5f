"""Places offline: the traps of the ZIP list, coordinates anywhere, zones checked."""

import json
import subprocess
import sys
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shipwindow import places
from shipwindow.errors import PlaceError
from shipwindow.places import Place, distance_km, find_place, rounded


def test_a_zip_code() -> None:
    place = find_place("86001")
    assert place.label == "Flagstaff, AZ 86001"
    assert (place.postcode, place.zone, place.warnings) == ("86001", "America/Phoenix", ())
    # Flagstaff lies at 35.2 N 111.65 W (any atlas); a ZIP centroid may be some kilometres away.
    assert (place.latitude_deg, place.longitude_deg) == pytest.approx((35.2, -111.65), abs=0.1)


@pytest.mark.parametrize("text", ["01608", "01608-1234", "016081234", " 01608 ", "01608\n"])
def test_zip_plus_four_and_spaces(text: str) -> None:
    assert find_place(text).label == "Worcester, MA 01608"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("33101", "PO box"),
        ("10048", "no longer in use"),
        ("00501", "one large organisation"),
    ],
)
def test_odd_zip_codes_are_warned_of(text: str, said: str) -> None:
    place = find_place(text)
    assert len(place.warnings) == 1
    assert said in place.warnings[0]


BAD = [
    ("99999", 'ZIP "99999"', "a ZIP code in use"),
    ("09001", "a military address", "no overnight carrier"),
    ("77352", "whose position is not known", "Zone/Name"),
    ("3030", '"3030"', 'did you mean "03030"?'),
    ("ABCDE", '"ABCDE"', "Zone/Name"),
    ("K1A 0B1", '"K1A 0B1"', "outside the US"),
    ("860011", '"860011"', "Zone/Name"),
    ("", '""', "Zone/Name"),
    ("Flagstaff", '"Flagstaff"', "Zone/Name"),
    ("91,10 Europe/Oslo", "latitude 91", "swapped"),
    ("-111.65,35.20 America/Phoenix", "latitude -111.65", "swapped"),
    ("-95,120 Etc/UTC", "latitude -95", "correct the latitude"),
    ("10,181 Etc/UTC", "longitude 181", "west is negative"),
    ("nan,10 Etc/UTC", "two finite numbers", "nan"),
    ("10,inf Etc/UTC", "two finite numbers", "inf"),
    ("0,0 Etc/UTC", "coordinates on land", "0,0"),
    ("35.2,-111.6 America/Pheonix", 'zone "America/Pheonix"', 'did you mean "America/Phoenix"?'),
    ("35.2,-111.6 America", 'zone "America"', "IANA zone"),
    ("35.2,-111.6 /etc/passwd", 'zone "/etc/passwd"', "IANA zone"),
    ("35.2,-111.6 ../UTC", 'zone "../UTC"', "IANA zone"),
    ("35.2N,111.6W", '"35.2N,111.6W"', "Zone/Name"),
    ("0,-140", "without a zone", "no land zone"),
]


@pytest.mark.parametrize(("text", "read", "do"), BAD)
def test_no_place(text: str, read: str, do: str) -> None:
    with pytest.raises(PlaceError) as caught:
        find_place(text)
    assert read in str(caught.value)
    assert do in str(caught.value)


def test_a_bad_zone_beside_a_zip_code() -> None:
    with pytest.raises(PlaceError, match="IANA zone"):
        find_place("86001", "Mars/Olympus")
    assert find_place("86001", "America/Denver").zone == "America/Denver"


GOOD = [
    ("35.20,-111.65 America/Phoenix", "35.20N 111.65W", "America/Phoenix"),
    ("35.20, -111.65, America/Phoenix", "35.20N 111.65W", "America/Phoenix"),
    ("35.20,\N{MINUS SIGN}111.65 America/Phoenix", "35.20N 111.65W", "America/Phoenix"),
    ("-33.87,151.21 Australia/Sydney", "33.87S 151.21E", "Australia/Sydney"),
    ("-90,0 Antarctica/McMurdo", "90.00S 0.00E", "Antarctica/McMurdo"),
    ("78.22,15.63 Arctic/Longyearbyen", "78.22N 15.63E", "Arctic/Longyearbyen"),
    ("-17.8,180 Pacific/Fiji", "17.80S 180.00E", "Pacific/Fiji"),
]


@pytest.mark.parametrize(("text", "label", "zone"), GOOD)
def test_coordinates_with_their_zone(text: str, label: str, zone: str) -> None:
    place = find_place(text)
    assert (place.label, place.zone, place.postcode) == (label, zone, "")
    if ", " not in text:
        assert find_place(text.partition(" ")[0], zone) == place


def test_a_bare_position_finds_its_zone_with_the_extra() -> None:
    assert find_place("35.20,-111.65").zone == "America/Phoenix"


def test_a_bare_position_without_the_extra_asks_for_the_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    places._zone_finder.cache_clear()
    monkeypatch.setitem(sys.modules, "timezonefinder", None)
    with pytest.raises(PlaceError, match=r"without a zone .*\[world\].*give zone, or write"):
        find_place("35.20,-111.65")
    places._zone_finder.cache_clear()


@given(
    st.floats(min_value=-90, max_value=90, allow_nan=False), st.floats(min_value=-180, max_value=180, allow_nan=False)
)
def test_any_position_on_the_globe_is_read_back(north: float, east: float) -> None:
    assume((round(north, 6), round(east, 6)) != (0.0, 0.0))
    place = find_place(f"{north:.6f},{east:.6f}", "Etc/UTC")
    assert (place.latitude_deg, place.longitude_deg) == pytest.approx((north, east), abs=5.1e-7)  # six decimals


@given(st.text(max_size=25))
def test_any_text_is_a_place_or_a_place_error(text: str) -> None:
    try:
        place = find_place(text, "Etc/UTC")
    except PlaceError:
        return
    assert -90.0 <= place.latitude_deg <= 90.0


@given(st.integers(min_value=0, max_value=99999))
def test_any_five_digits_are_a_place_with_a_clock_or_refused(number: int) -> None:
    try:
        place = find_place(f"{number:05d}")
    except PlaceError:
        return
    assert ZoneInfo(place.zone).key == place.zone
    assert (place.latitude_deg, place.longitude_deg) != (0.0, 0.0)


def test_rounded_for_services_and_for_logs() -> None:
    place = Place("x", 35.1234567, -111.9876543, "America/Phoenix")
    assert rounded(place) == (35.1235, -111.9877)
    assert rounded(place, 2) == (35.12, -111.99)


def test_distance_is_symmetric_and_never_negative() -> None:
    a, b = find_place("86001"), find_place("01608")
    # The same sum in either order; float rounding only.
    assert distance_km(a, b) == pytest.approx(distance_km(b, a), rel=1e-12)
    assert distance_km(a, a) == pytest.approx(0.0, abs=1e-9)


def test_the_list_is_not_loaded_before_it_is_needed() -> None:
    code = (
        "import sys, json, shipwindow.places;"
        "print(json.dumps([name in sys.modules for name in ('zipcodes', 'timezonefinder')]))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert json.loads(ran.stdout) == [False, False]
