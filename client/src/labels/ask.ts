/** What the farm's computer knows of label paper, layouts and heat: fetched when a screen needs it. */
import type { Label } from '../app-types';
import { app } from '../ui/app';

export interface Paper {
  name: string;
  label_width: number;
  label_height: number;
  cells: number;
  roll: boolean;
  /** Letters of the tags that fit it. */
  fits: string[];
}

export interface Advice {
  method: string;
  material: string;
  steam: 'survives' | 'borderline' | 'fails';
  /** Message ids. */
  sentences: string[];
  grade: string;
}

export interface Part { field: string; size: string; lines: number; bold: boolean }

export interface Layouts {
  fields: string[];
  sizes: string[];
  whole: string[];
  lines: number;
  usual: Record<string, Part[]>;
  own: Record<string, Part[]>;
}

const list = async <T>(path: string): Promise<T> => JSON.parse(await (await app().labels(path, 'application/json')).text()) as T;

export const papers = async (): Promise<Paper[]> => (await list<{ stocks: Paper[] }>('/stocks')).stocks;
export const advice = async (): Promise<{ rows: Advice[]; always: string[] }> => list('/advice');
export const layouts = async (): Promise<Layouts> => list('/layouts');

/** The first page of a job as a picture. */
export const preview = (job: object, labels: Label[]): Promise<Blob> => app().labels('/preview', 'image/png', { ...job, labels });

/** A layout as a record holds it: "number large bold, what 2, day". */
export const layoutText = (parts: Part[]): string =>
  parts.map(({ field, size, lines, bold }) => [field, ...(size === 'normal' ? [] : [size]), ...(lines > 1 ? [String(lines)] : []), ...(bold ? ['bold'] : [])].join(' ')).join(', ');
