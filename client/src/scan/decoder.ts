/**
 * The page's side of the decoder: takes frames off a video, hands them to the worker one at a time,
 * and gives back what was seen. Where no worker can run it decodes on the page.
 */
import wasmUrl from 'zxing-wasm/reader/zxing_reader.wasm?url';
import type { Engine, Seen } from './engine';
import type { Frame } from './luma';
import type { FromWorker, ToWorker } from './messages';

export type { Seen, SeenSymbol } from './engine';

export interface DecoderOptions {
  /** Decode on the page even where a worker runs: CPU throttling in tests never reaches a worker. */
  decodeOnPage?: boolean;
}

/** The code reader cannot run on this phone, or its file is not there. */
export class DecoderError extends Error {
  override name = 'DecoderError';
}

interface Waiting {
  resolve(seen: Seen): void;
  reject(error: unknown): void;
}

export class Decoder {
  /** Resolves when frames are decoded at full speed, rejects with a DecoderError. */
  readonly ready: Promise<void>;
  /** Where frames are decoded, for the figures. */
  where: 'worker' | 'page' = 'worker';
  private worker: Worker | undefined;
  private page: Promise<Engine> | undefined;
  private waiting = new Map<number, Waiting>();
  private count = 0;
  private settleReady!: () => void;
  private failReady!: (error: DecoderError) => void;
  private sentBytes = false;

  constructor(options: DecoderOptions = {}) {
    this.ready = new Promise<void>((resolve, reject) => {
      this.settleReady = resolve;
      this.failReady = reject;
    });
    // Who never asks must not get an unhandled rejection.
    this.ready.catch(() => undefined);
    if (options.decodeOnPage || typeof Worker === 'undefined') this.moveToPage();
    else this.startWorker();
  }

  /** What is to be seen in the video now; null while it has no picture yet. `all`: see Engine.look. */
  async look(video: HTMLVideoElement, all = false): Promise<Seen | null> {
    if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA || video.videoWidth === 0) return null;
    const frame = await grab(video);
    if (this.worker) return this.ask(this.worker, frame, all);
    try {
      return await (await this.onPage()).look(frame, all);
    } finally {
      if ('close' in frame) frame.close();
    }
  }

  close(): void {
    this.worker?.terminate();
    this.worker = undefined;
    this.failAll(new DecoderError('closed'));
  }

  private ask(worker: Worker, frame: Frame, all: boolean): Promise<Seen> {
    const id = (this.count += 1);
    return new Promise((resolve, reject) => {
      this.waiting.set(id, { resolve, reject });
      const message: ToWorker = { kind: 'look', id, frame, all };
      try {
        worker.postMessage(message, ['close' in frame ? frame : frame.data.buffer]);
      } catch (error) {
        // Some browsers make VideoFrames and cannot hand them over: take the next way from now on.
        this.waiting.delete(id);
        if ('close' in frame) frame.close();
        if (way + 1 < WAYS.length) way += 1;
        reject(error);
      }
    });
  }

  private startWorker(): void {
    const worker = new Worker(new URL('./decoder.worker.ts', import.meta.url), { type: 'module' });
    this.worker = worker;
    worker.onmessage = ({ data }: MessageEvent<FromWorker>) => this.hear(data);
    // The script did not load or does not run here (module workers are young in some browsers).
    worker.onerror = (event) => {
      event.preventDefault();
      worker.terminate();
      this.moveToPage();
    };
  }

  private hear(message: FromWorker): void {
    if (message.kind === 'ready') this.settleReady();
    else if (message.kind === 'broken') void this.lendBytes(message.message);
    else {
      const waiting = this.waiting.get(message.id);
      this.waiting.delete(message.id);
      if (message.kind === 'seen') waiting?.resolve(message.seen);
      else waiting?.reject(new DecoderError(message.message));
    }
  }

  // Firefox: without network a worker's own fetch goes past the service worker (bug 2067202), so the
  // page fetches the file for it.
  private async lendBytes(reason: string): Promise<void> {
    try {
      if (this.sentBytes) throw new DecoderError(reason);
      this.sentBytes = true;
      const answer = await fetch(wasmUrl);
      if (!answer.ok) throw new DecoderError(`${wasmUrl}: ${answer.status}`);
      const bytes = await answer.arrayBuffer();
      const message: ToWorker = { kind: 'wasm', bytes };
      this.worker?.postMessage(message, [bytes]);
    } catch (error) {
      this.failReady(error instanceof DecoderError ? error : new DecoderError(reason, { cause: error }));
    }
  }

  private moveToPage(): void {
    this.worker = undefined;
    this.where = 'page';
    this.failAll(new DecoderError('the decoder moved to the page'));
    this.onPage().then(
      () => this.settleReady(),
      (error: unknown) => this.failReady(new DecoderError(String(error), { cause: error })),
    );
  }

  private onPage(): Promise<Engine> {
    // A chunk of its own: pages whose worker runs never fetch it.
    this.page ??= import('./engine').then(({ Engine }) => Engine.load());
    return this.page;
  }

  private failAll(error: DecoderError): void {
    for (const { reject } of this.waiting.values()) reject(error);
    this.waiting.clear();
  }
}

/** The ways to take a frame off a video, fastest first; the first that works here is kept. */
const WAYS: Array<(video: HTMLVideoElement) => Frame | Promise<Frame>> = [
  // No copy on the page (0 ms; a canvas takes 7, on a slow phone 33).
  (video) => new VideoFrame(video),
  (video) => {
    if (typeof OffscreenCanvas === 'undefined') throw new DOMException('no canvas in workers', 'NotSupportedError');
    return createImageBitmap(video);
  },
  drawOnPage,
];
let way = 0;

async function grab(video: HTMLVideoElement): Promise<Frame> {
  for (;;) {
    try {
      return await (WAYS[way] as (typeof WAYS)[number])(video);
    } catch (error) {
      // A video that lost its stream fails in every way: only a missing API moves on for good.
      const missing = error instanceof ReferenceError || (error as DOMException).name === 'NotSupportedError';
      if (!missing || way + 1 >= WAYS.length) throw error;
      way += 1;
    }
  }
}

let sketch: HTMLCanvasElement | undefined;

function drawOnPage(video: HTMLVideoElement): ImageData {
  const { videoWidth: width, videoHeight: height } = video;
  sketch ??= document.createElement('canvas');
  // Assigning a size clears and reallocates the canvas even when it stays the same.
  if (sketch.width !== width) sketch.width = width;
  if (sketch.height !== height) sketch.height = height;
  const context = sketch.getContext('2d', { willReadFrequently: true });
  if (!context) throw new DOMException('no 2d context', 'InvalidStateError');
  context.drawImage(video, 0, 0);
  return context.getImageData(0, 0, width, height);
}
