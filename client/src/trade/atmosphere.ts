/** Air pressure at an altitude, the standard atmosphere; the twin of server/bagtrail/trade/atmosphere.py. */
import { Unfit } from './findings';
import { inWords } from './whole';

/** Pressure at mean sea level. Sources of this and the next: see the twin. */
export const SEA_LEVEL_PA = 101_325;
const T0 = 288.15;
const LAPSE = 0.0065;
const POWER = 9.80665 * 0.0289644 / (8.31432 * LAPSE);
const RADIUS_M = 6_356_766;
export const LOWEST_M = -5_000;
export const HIGHEST_M = 11_000;

/** The standard air pressure in Pa at an altitude in m, as on a map. Example: 1,000 m is 89,876 Pa. */
export function pressurePa(altitudeM: number): number {
  if (!(altitudeM >= LOWEST_M && altitudeM <= HIGHEST_M)) throw new Unfit('altitude_range', { altitude_m: inWords(altitudeM) });
  return atGeopotential(RADIUS_M * altitudeM / (RADIUS_M + altitudeM));
}

/** The standard air pressure in Pa at a geopotential height in m, as tables print it. */
export function atGeopotential(heightM: number): number {
  return SEA_LEVEL_PA * (1 - LAPSE * heightM / T0) ** POWER;
}
