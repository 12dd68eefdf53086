"""Steam and air, against the release's check values, printed tables and the library iapws."""

from __future__ import annotations

import json
import math
import warnings
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # The reference library's, not ours.
    from iapws.iapws97 import _PSat_T, _TSat_P

from bagtrail.trade import atmosphere, steam
from bagtrail.trade.findings import Unfit

DATA = json.loads((Path(__file__).parents[3] / "fixtures/trade/steam.json").read_text("utf-8"))
PSI = 6_894.757293168361
FOOT = 0.3048


def pairs(name: str, x: str, y: str) -> list[tuple[float, float]]:
    return list(zip(DATA[name][x], DATA[name][y], strict=True))


@pytest.mark.parametrize(("temp", "p"), pairs("saturation_pressure", "temp_k", "p_mpa"))
def test_the_releases_pressures(temp: float, p: float) -> None:
    # Nine digits are printed.
    assert steam.saturation_pressure_pa(temp - 273.15) / 1e6 == pytest.approx(p, rel=2e-9)


@pytest.mark.parametrize(("p", "temp"), pairs("saturation_temperature", "p_mpa", "temp_k"))
def test_the_releases_temperatures(p: float, temp: float) -> None:
    assert steam.saturation_temperature_c(p * 1e6) + 273.15 == pytest.approx(temp, abs=1e-6)


@pytest.mark.parametrize(("bar", "temp"), pairs("absolute_bar", "bar", "temp_c"))
def test_absolute_pressures(bar: float, temp: float) -> None:
    assert steam.saturation_temperature_c(bar * 1e5) == pytest.approx(temp, abs=0.001)


@pytest.mark.parametrize(
    ("pa", "temp"),
    [(x * PSI, t) for x, t in pairs("gauge_sea_level", "psi", "psi_c")]
    + [(x * 1e5, t) for x, t in pairs("gauge_sea_level", "bar", "bar_c")],
)
def test_gauge_pressures_at_sea_level(pa: float, temp: float) -> None:
    assert steam.temperature_at_gauge_c(pa, 0) == pytest.approx(temp, abs=0.01)


@pytest.mark.parametrize(("bar", "temp"), pairs("handbook_gauge_bar", "bar", "temp_c"))
def test_a_handbooks_steam_table(bar: float, temp: float) -> None:
    found = steam.temperature_at_gauge_c(bar * 1e5, 0)
    assert found == pytest.approx(temp, abs=DATA["handbook_gauge_bar"]["within_c"])


@pytest.mark.parametrize(("temp", "kpa"), pairs("pressure_table", "temp_c", "kpa"))
def test_pressures_of_temperatures(temp: float, kpa: float) -> None:
    assert steam.saturation_pressure_pa(temp) / 1e3 == pytest.approx(kpa, abs=0.006)


@pytest.mark.parametrize(("temp", "kpa"), pairs("medical_waste", "temp_c", "gauge_kpa"))
def test_gauge_pressures_of_temperatures(temp: float, kpa: float) -> None:
    assert steam.gauge_for_pa(temp, 0) / 1e3 == pytest.approx(kpa, abs=0.06)


@pytest.mark.parametrize(("feet", "psi"), pairs("geopotential_ft", "ft", "psi"))
def test_the_standard_atmosphere_in_geopotential_feet(feet: float, psi: float) -> None:
    assert atmosphere.at_geopotential(feet * FOOT) / PSI == pytest.approx(psi, abs=0.002)


@pytest.mark.parametrize(
    ("m", "pa", "hpa", "boils"),
    list(zip(*(DATA["geometric_m"][key] for key in ("m", "pa", "hpa", "boil_c")), strict=True)),
)
def test_the_standard_atmosphere_and_where_water_boils(
    m: float, pa: float, hpa: float, boils: float
) -> None:
    # The 1993 and 1976 gas constants differ in the fifth figure: 0.2 Pa at 3 km.
    assert atmosphere.pressure_pa(m) == pytest.approx(pa, abs=0.3)
    assert atmosphere.pressure_pa(m) / 100 == pytest.approx(hpa, abs=0.02)
    assert steam.boiling_c(m) == pytest.approx(boils, abs=0.01)


@pytest.mark.parametrize(("feet", "boils"), pairs("home_canning", "ft", "boil_c"))
def test_a_canning_table_is_near_but_not_tuned_to(feet: float, boils: float) -> None:
    assert steam.boiling_c(feet * FOOT) == pytest.approx(boils, abs=0.7)


@pytest.mark.parametrize("i", range(10))
def test_the_trades_altitudes(i: int) -> None:
    row = {key: value[i] for key, value in DATA["trade_altitudes"].items() if key[:2] != "wi"
           and key != "source"}  # fmt: skip
    m = row["m"]
    assert atmosphere.pressure_pa(m) / 1e3 == pytest.approx(row["kpa"], abs=0.015)
    assert steam.boiling_c(m) == pytest.approx(row["boil_c"], abs=0.06)
    gauge = steam.gauge_for_pa(121.1, m)
    assert gauge / 1e3 == pytest.approx(row["gauge_kpa_for_121_1"], abs=0.06)
    assert gauge / PSI == pytest.approx(row["gauge_psi_for_121_1"], abs=0.01)
    assert steam.temperature_at_gauge_c(15 * PSI, m) == pytest.approx(
        row["temp_c_at_15_psi"], abs=0.01
    )


def test_a_cannery_source() -> None:
    cannery = DATA["cannery"]
    assert steam.gauge_for_pa(120, 0) / PSI == pytest.approx(cannery["psi_sea"], abs=0.05)
    high = steam.gauge_for_pa(120, 4_000 * FOOT) / PSI
    assert high == pytest.approx(cannery["psi_4000_ft"], abs=cannery["within_psi"])


def test_home_canning_gauges() -> None:
    """10.33 psig by the trade page's sum, printed as 10.5; half a psi each 1,000 ft."""
    row = DATA["canning_gauge"]
    sea = steam.gauge_for_pa(row["temp_c"], 0) / PSI
    assert sea == pytest.approx(row["psi_computed"], abs=0.005)
    assert sea <= row["psi_printed"] <= sea + 0.5
    # The page reckons the half psi from sea level to 4,000 ft.
    high = (steam.gauge_for_pa(121.1, 4_000 * FOOT) - steam.gauge_for_pa(121.1, 0)) / PSI
    assert high / 4 == pytest.approx(row["psi_per_1000_ft"], abs=0.005)


@given(st.floats(0.01, 373.9))
def test_pressure_agrees_with_iapws(temp: float) -> None:
    theirs = _PSat_T(temp + 273.15) * 1e6
    assert steam.saturation_pressure_pa(temp) == pytest.approx(theirs, rel=1e-11)


@given(st.floats(700, 22_000_000))
def test_temperature_agrees_with_iapws(pa: float) -> None:
    theirs = _TSat_P(pa / 1e6) - 273.15
    assert steam.saturation_temperature_c(pa) == pytest.approx(theirs, abs=1e-9)


@given(st.floats(1, 370))
def test_there_and_back(temp: float) -> None:
    # The backward equation is within 1e-6 K of the forward one's inverse.
    back = steam.saturation_temperature_c(steam.saturation_pressure_pa(temp))
    assert back == pytest.approx(temp, abs=1e-6)


@given(st.floats(-4_000, 10_000), st.floats(1, 900))
def test_higher_is_thinner_cooler_and_takes_more_gauge(m: float, up: float) -> None:
    assert atmosphere.pressure_pa(m + up) < atmosphere.pressure_pa(m)
    assert steam.boiling_c(m + up) < steam.boiling_c(m)
    assert steam.gauge_for_pa(121, m + up) > steam.gauge_for_pa(121, m)


def test_the_pot_in_whole_numbers() -> None:
    here = steam.pot(0)
    assert (here.air_pa, here.boils, here.temp) == (101_325, 9_997, 12_100)
    assert here.gauge_pa == pytest.approx(103_700, abs=50)
    assert steam.pot(1_000_000, 12_110).gauge_pa == pytest.approx(115_800, abs=60)


@pytest.mark.parametrize("m", [-5_001, 11_001, math.nan, math.inf])
def test_no_altitude(m: float) -> None:
    with pytest.raises(Unfit, match="altitude_range"):
        atmosphere.pressure_pa(m)


@pytest.mark.parametrize("temp", [-0.1, 373.96, math.nan])
def test_no_steam(temp: float) -> None:
    with pytest.raises(Unfit, match="steam_range"):
        steam.saturation_pressure_pa(temp)


@pytest.mark.parametrize("pa", [611.0, 22_064_001.0, math.nan, -1.0])
def test_no_steam_pressure(pa: float) -> None:
    with pytest.raises(Unfit, match="steam_range"):
        steam.saturation_temperature_c(pa)


def test_trapped_air_makes_pressure_lie() -> None:
    """15 psi gauge and 115 degC: 204.7 kPa in all, 169.2 of steam, the rest is air."""
    found = steam.trapped_air(15 * PSI, 115, 0)
    assert found is not None
    assert found.code == "air_in_chamber"
    assert (found.values["should_be"], found.values["temp"]) == (12_095, 11_500)
    assert found.values["air_pa"] == pytest.approx(35_570, abs=40)


def test_a_probe_warmer_than_steam_can_be() -> None:
    found = steam.trapped_air(15 * PSI, 123, 0)
    assert found is not None
    assert found.code == "gauge_or_probe"


def test_a_pot_that_agrees_with_its_gauge() -> None:
    assert steam.trapped_air(15 * PSI, 120.5, 0) is None
