/**
 * Saturated steam and the pot at the farm's altitude; the twin of server/bagtrail/trade/steam.py.
 * Source: IAPWS R7-97(2012), Industrial Formulation 1997, region 4: equations 30 and 31, Table 34.
 */
import { pressurePa } from './atmosphere';
import { Unfit, finding, type Finding } from './findings';
import { inWords, nearest } from './whole';

const N1 = 0.11670521452767e4;
const N2 = -0.72421316703206e6;
const N3 = -0.17073846940092e2;
const N4 = 0.12020824702470e5;
const N5 = -0.32325550322333e7;
const N6 = 0.14915108613530e2;
const N7 = -0.48232657361591e4;
const N8 = 0.40511340542057e6;
const N9 = -0.23855557567849;
const N10 = 0.65017534844798e3;
const LOWEST_K = 273.15;
const HIGHEST_K = 647.096;
const LOWEST_PA = 611.213;
const HIGHEST_PA = 22_064_000;
const KELVIN = 273.15;

/** How far may a thermometer lie below the steam table before air is likely in the chamber, K? Our choice, see the twin. */
export const AIR_K = 1;

/** The absolute pressure of saturated steam, Pa. Example: 121 °C is 205,040 Pa. */
export function saturationPressurePa(tempC: number): number {
  const t = tempC + KELVIN;
  if (!(t >= LOWEST_K && t <= HIGHEST_K)) throw new Unfit('steam_range', { temp: inWords(100 * tempC) });
  const theta = t + N9 / (t - N10);
  const a = theta ** 2 + N1 * theta + N2;
  const b = N3 * theta ** 2 + N4 * theta + N5;
  const c = N6 * theta ** 2 + N7 * theta + N8;
  return 1e6 * (2 * c / (-b + Math.sqrt(b * b - 4 * a * c))) ** 4;
}

/** The temperature of saturated steam at an absolute pressure, °C. Example: 100,000 Pa is 99.605919. */
export function saturationTemperatureC(pressureAbsPa: number): number {
  if (!(pressureAbsPa >= LOWEST_PA && pressureAbsPa <= HIGHEST_PA)) {
    throw new Unfit('steam_range', { pressure_pa: inWords(pressureAbsPa) });
  }
  const beta = (pressureAbsPa / 1e6) ** 0.25;
  const e = beta ** 2 + N3 * beta + N6;
  const f = N1 * beta ** 2 + N4 * beta + N7;
  const g = N2 * beta ** 2 + N5 * beta + N8;
  const d = 2 * g / (-f - Math.sqrt(f * f - 4 * e * g));
  return (N10 + d - Math.sqrt((N10 + d) ** 2 - 4 * (N9 + N10 * d))) / 2 - KELVIN;
}

/** Where water boils in an open pot, °C. Example: 96.65 at 1,000 m. */
export function boilingC(altitudeM: number): number {
  return saturationTemperatureC(pressurePa(altitudeM));
}

/** The gauge pressure in Pa that saturated steam of a temperature shows here. Example: 121.1 °C takes 115.8 kPa at 1,000 m. */
export function gaugeForPa(tempC: number, altitudeM: number): number {
  return saturationPressurePa(tempC) - pressurePa(altitudeM);
}

/** The steam's temperature at a gauge pressure, if no air is left in the chamber, °C. */
export function temperatureAtGaugeC(gaugePa: number, altitudeM: number): number {
  return saturationTemperatureC(pressurePa(altitudeM) + gaugePa);
}

/** What an altitude means for a pot, in whole Pa and 0.01 °C. */
export interface Pot {
  air_pa: number;
  boils: number;
  gauge_pa: number;
  temp: number;
}

/** Air pressure, boiling point and the gauge pressure needed for `temp` (0.01 °C) at an altitude in mm. */
export function pot(altitudeMm: number, temp = 12_100): Pot {
  const altitudeM = altitudeMm / 1_000;
  return {
    air_pa: nearest(pressurePa(altitudeM)),
    boils: nearest(100 * boilingC(altitudeM)),
    gauge_pa: nearest(gaugeForPa(temp / 100, altitudeM)),
    temp,
  };
}

/** "air_in_chamber" when a pot is colder than its pressure says, "gauge_or_probe" when it is warmer, or null. */
export function trappedAir(gaugePa: number, tempC: number, altitudeM: number): Finding | null {
  const shouldBe = temperatureAtGaugeC(gaugePa, altitudeM);
  if (Math.abs(shouldBe - tempC) <= AIR_K) return null;
  const values = { should_be: nearest(100 * shouldBe), temp: nearest(100 * tempC) };
  if (tempC > shouldBe) return finding('gauge_or_probe', 'warn', '', values);
  const air = pressurePa(altitudeM) + gaugePa - saturationPressurePa(tempC);
  return finding('air_in_chamber', 'warn', '', { ...values, air_pa: nearest(air) });
}
