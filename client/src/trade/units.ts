/** Units as people say them and whole numbers as records hold them; the twin of server/bagtrail/trade/units.py. */
import { Unfit } from './findings';
import { Ratio } from './ratio';
import { halfUp } from './whole';

/** whole = said x factor + offset; `quantity` names what records hold it in. */
export interface Unit {
  quantity: Quantity;
  factor: Ratio;
  offset: Ratio;
}
export type Quantity = 'mass' | 'volume' | 'length' | 'pressure' | 'temperature' | 'span' | 'density';

// Exact definitions: NIST Handbook 44, Appendix C; NIST SP 811, Appendix B.8.
const LB_G = Ratio.of(45_359_237, 100_000);
const IN_MM = Ratio.of(254, 10);
const IN3_ML = IN_MM.times(IN_MM).times(IN_MM).over(1_000);
const GAL_ML = IN3_ML.times(231);
const GAL_UK_ML = Ratio.of(454_609, 100);
const IN_M = IN_MM.over(1_000);
const PSI_PA = LB_G.over(1_000).times(Ratio.of(980_665, 100_000)).over(IN_M.times(IN_M));
const FT3_L = IN3_ML.times(1_728).over(1_000);

function unit(quantity: Quantity, factor: Ratio | number, offset: Ratio = Ratio.zero): Unit {
  return { quantity, factor: factor instanceof Ratio ? factor : Ratio.of(factor), offset };
}

/** mass g, volume mL, length mm, pressure Pa, temperature 0.01 °C, span 0.01 K, density g/L. */
export const UNITS: Readonly<Record<string, Unit>> = {
  g: unit('mass', 1),
  kg: unit('mass', 1_000),
  t: unit('mass', 1_000_000),
  lb: unit('mass', LB_G),
  oz: unit('mass', LB_G.over(16)),
  mL: unit('volume', 1),
  L: unit('volume', 1_000),
  gal: unit('volume', GAL_ML),
  qt: unit('volume', GAL_ML.over(4)),
  'fl oz': unit('volume', GAL_ML.over(128)),
  'gal UK': unit('volume', GAL_UK_ML),
  'ft³': unit('volume', FT3_L.times(1_000)),
  mm: unit('length', 1),
  cm: unit('length', 10),
  m: unit('length', 1_000),
  in: unit('length', IN_MM),
  ft: unit('length', IN_MM.times(12)),
  Pa: unit('pressure', 1),
  hPa: unit('pressure', 100),
  kPa: unit('pressure', 1_000),
  bar: unit('pressure', 100_000),
  psi: unit('pressure', PSI_PA),
  inHg: unit('pressure', Ratio.of(3_386_389, 1_000)),
  '°C': unit('temperature', 100),
  '°F': unit('temperature', Ratio.of(500, 9), Ratio.of(-16_000, 9)),
  K: unit('temperature', 100, Ratio.of(-27_315)),
  'K span': unit('span', 100),
  '°F span': unit('span', Ratio.of(500, 9)),
  'g/L': unit('density', 1),
  'kg/m³': unit('density', 1),
  'lb/ft³': unit('density', LB_G.over(FT3_L)),
  'lb/yd³': unit('density', LB_G.over(FT3_L).over(27)),
};

const TYPED: Readonly<Record<string, string>> = {
  kgs: 'kg', kilo: 'kg', kilos: 'kg', gr: 'g', gram: 'g', grams: 'g', tonne: 't',
  lbs: 'lb', pound: 'lb', pounds: 'lb', '#': 'lb', ounce: 'oz', ounces: 'oz',
  ml: 'mL', l: 'L', litre: 'L', litres: 'L', liter: 'L', liters: 'L',
  gallon: 'gal', gallons: 'gal', quart: 'qt', quarts: 'qt', floz: 'fl oz',
  imperialgallon: 'gal UK', galuk: 'gal UK', ukgal: 'gal UK', ft3: 'ft³', cuft: 'ft³',
  metre: 'm', metres: 'm', meter: 'm', meters: 'm', '"': 'in', inch: 'in',
  inches: 'in', "'": 'ft', foot: 'ft', feet: 'ft', pa: 'Pa', hpa: 'hPa', mbar: 'hPa',
  kpa: 'kPa', psig: 'psi', psia: 'psi', 'lb/in2': 'psi', inhg: 'inHg', c: '°C',
  degc: '°C', celsius: '°C', f: '°F', degf: '°F', fahrenheit: '°F', k: 'K',
  'g/l': 'g/L', 'kg/m3': 'kg/m³', 'lb/ft3': 'lb/ft³', 'lb/yd3': 'lb/yd³',
};

/** A value in a unit as the whole number of its quantity, half up. Example: whole(250, '°F') is 12,111. */
export function whole(value: Ratio | number, name: string): number {
  const u = unitOf(name);
  return halfUp(u.factor.times(value).plus(u.offset));
}

/** A whole number in a unit, as a whole number of its last shown digit. Example: said(12_100, '°F', 1) is 2,498. */
export function said(count: number, name: string, digits = 0): number {
  const u = unitOf(name);
  return halfUp(Ratio.of(count).minus(u.offset).over(u.factor).times(10n ** BigInt(digits)));
}

/** A unit by its own name or as people type it. */
export function unitOf(name: string): Unit {
  const own = known(name);
  if (own) return own;
  const typed = name.replace(/[.\s°º]/g, '').toLowerCase().replaceAll('²', '2').replaceAll('³', '3');
  const said = (Object.hasOwn(TYPED, typed) ? TYPED[typed] : undefined) ?? typed;
  const found = known(said) ?? known(`°${typed.toUpperCase()}`);
  if (!found) throw new Unfit('unit_unknown', { unit: name });
  return found;
}

/** One typed number, exactly; "2.5" and "2,5" are two and a half, "1,500" is not guessed. */
export function number(text: string): Ratio {
  const match = /^([+-]?)([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)$/.exec(text.trim().replaceAll('\u2212', '-'));
  if (!match) throw new Unfit('number', { text });
  const digits = match[2] ?? '';
  if (/^[1-9][0-9]{0,2},[0-9]{3}$/.test(digits)) throw new Unfit('number_ambiguous', { text });
  const [before = '', after = ''] = digits.split(/[.,]/);
  const value = Ratio.of(BigInt(`0${before}${after}`), 10n ** BigInt(after.length));
  return match[1] === '-' ? Ratio.zero.minus(value) : value;
}

/** A typed amount as the whole number of a quantity: "5 lb 4 oz", "2,5 kg", "250". */
export function read(typedText: string, quantity: Quantity, name: string): number {
  const text = typedText.replace(/\/(ft|yd|m|in)([23])/g, (_, of: string, power: string) => `/${of}${power === '2' ? '²' : '³'}`);
  const pieces = [...text.trim().matchAll(/([+\-\u2212]?[0-9.,]+)\s*([^0-9+\-\u2212]*)/g)];
  const back = pieces.map((p) => `${p[1]}${p[2]}`).join('').replaceAll(' ', '');
  if (!pieces.length || back !== text.replaceAll(' ', '')) throw new Unfit('number', { text });
  let total = Ratio.zero;
  for (const [, typed = '', word = ''] of pieces) {
    const said = word.trim() || name;
    const u = unitOf(said);
    if (u.quantity !== quantity || (!u.offset.isZero && pieces.length > 1)) {
      throw new Unfit('unit_other', { unit: said, quantity });
    }
    total = total.plus(number(typed).times(u.factor)).plus(u.offset);
  }
  return halfUp(total);
}

function known(name: string): Unit | undefined {
  return Object.hasOwn(UNITS, name) ? UNITS[name] : undefined;
}
