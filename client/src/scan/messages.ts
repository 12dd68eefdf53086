/** What page and decoder worker say to each other. */
import type { Seen } from './engine';
import type { Frame } from './luma';

export type ToWorker = { kind: 'look'; id: number; frame: Frame; all: boolean } | { kind: 'wasm'; bytes: ArrayBuffer };

export type FromWorker =
  | { kind: 'ready' }
  | { kind: 'broken'; message: string }
  | { kind: 'seen'; id: number; seen: Seen }
  | { kind: 'failed'; id: number; message: string };
