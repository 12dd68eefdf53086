/** The paper this device prints on and the printer it lies in: kept on the device, for printers differ. */
import { isObject } from '../check';
import { app } from '../ui/app';
import { labelLanguage } from './words';

export interface Printer {
  /** A name of the table, a roll by its size, or the measures of a sheet as JSON. */
  stock: string;
  /** Dots per inch, as printers call themselves: 203, 300, 600. */
  dpi: number;
  /** Millimetres by which all is moved right and down. */
  x: number;
  y: number;
  /** Cells of the sheet in the tray that are used up. */
  start: number;
}

export const DPIS = [203, 300, 600];
export const USUAL = 'a4-24';
/** Further than this no printer feeds off; the farm's computer knows the true bound of each stock. */
export const MOST_NUDGE_MM = 20;
const KEY = 'bagtrail.printer';

/** The stock that the farm chose, or the usual sheet. */
export function farmStock(): string {
  const said = app().ref.value.settings['label_stock'];
  return typeof said === 'string' && said ? said : USUAL;
}

export function printer(): Printer {
  const kept = read();
  const number = (name: keyof Printer, least: number, most: number, otherwise: number): number => {
    const value = kept[name];
    return typeof value === 'number' && value >= least && value <= most ? value : otherwise;
  };
  const stock = typeof kept.stock === 'string' && kept.stock ? kept.stock : farmStock();
  return {
    stock, dpi: number('dpi', 150, 2400, 203), x: number('x', -MOST_NUDGE_MM, MOST_NUDGE_MM, 0),
    y: number('y', -MOST_NUDGE_MM, MOST_NUDGE_MM, 0), start: Math.floor(number('start', 0, Math.max(0, cellsOf(stock) - 1), 0)),
  };
}

function read(): Partial<Printer> {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(KEY) ?? '{}');
    return isObject(kept) ? kept : {};
  } catch {
    return {}; // storage barred, or a stranger's text
  }
}

export function keepPrinter(now: Printer): void {
  try {
    localStorage.setItem(KEY, JSON.stringify(now));
  } catch {
    // Storage barred: asked again next time.
  }
}

/** Labels on one page; 1 on a roll. */
export function cellsOf(stock: string): number {
  const own = measures(stock);
  if (own) return Math.max(1, Number(own['columns'] ?? 1) * Number(own['rows'] ?? 1));
  return Number(/^(?:a4|letter)-(\d+)$/.exec(stock)?.[1] ?? 1);
}

/** The measures of a stock of one's own, or null for a named one. */
export function measures(stock: string): Record<string, unknown> | null {
  if (!stock.startsWith('{')) return null;
  try {
    const found: unknown = JSON.parse(stock);
    return isObject(found) ? found : null;
  } catch {
    return null;
  }
}

/** What a request to the farm's computer says of paper and printer. */
export function onPaper({ stock, dpi, x, y }: Printer): Record<string, unknown> {
  return { stock: measures(stock) ?? stock, dpi, language: labelLanguage(), ...(x ? { nudge_x: x } : {}), ...(y ? { nudge_y: y } : {}) };
}

/** The first free cell of the sheet in the tray after `n` more labels. */
export const startAfter = (now: Printer, n: number): number => (now.start + n) % cellsOf(now.stock);
