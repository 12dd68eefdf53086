/**
 * The decoder itself: one camera frame -> all QR symbols in it, with their places. Used by the worker,
 * and by the page where no worker runs. Nothing else imports zxing-wasm, so the shell stays without it.
 *
 * Source of every setting: our own measurement on 165 photographs and synthetic frames, held-out frames
 * read 69 % with the library's defaults and 75-77 % with these.
 */
import { prepareZXingModule } from 'zxing-wasm/reader';
import wasmUrl from 'zxing-wasm/reader/zxing_reader.wasm?url';
import { findFinders } from './finders';
import { cutLuma, enlarge, frameSize, halve, middle, type Frame, type Luma, type Rect } from './luma';
import { missingFinders, withFinder } from './mend';
import { troubleOf, type Trouble } from './trouble';

export interface Point {
  x: number;
  y: number;
}

/** A QR symbol in a frame: px of the frame, corners clockwise from the symbol's own top left. */
export interface SeenSymbol {
  text: string;
  centre: Point;
  corners: [Point, Point, Point, Point];
}

export interface Seen {
  symbols: SeenSymbol[];
  /** Size of the frame, px. */
  width: number;
  height: number;
  /** Time spent in decoding, ms. */
  ms: number;
  /** After misses: what may be wrong with the picture. */
  trouble?: Trouble | null;
}

/** One try at a frame. */
export interface Attempt {
  part: 'middle' | 'full';
  enlarged: boolean;
  denoised: boolean;
  /** At half the size, where lines of one dot that the printer left white run into their neighbours. */
  halved?: boolean;
  /** With a finder drawn anew where two that are seen say that one is hidden. */
  mended?: boolean;
}

/** Share of each side that is tried first: 2.6 against 6.5 ms, with the same hits. */
const MIDDLE = 0.6;

/** Up to this height (px) a label at arm's length has under 2 px a module: enlarge at once. */
const LOW = 480;

/**
 * The tries for one frame after `misses` frames without a symbol. Three ways to look again at the middle
 * take turns: at half the size (lines of the printer), with a hidden finder drawn anew (dirt, tape),
 * enlarged and denoised (blur, droplets). Every tenth miss looks at the whole frame (aimed badly).
 */
export function attempts(misses: number, height: number): Attempt[] {
  const low = height <= LOW;
  const tries: Attempt[] = [{ part: 'middle', enlarged: low, denoised: false }];
  const again = misses % 3;
  if (again === 0 && !low) tries.push({ part: 'middle', enlarged: false, denoised: false, halved: true });
  if (again === 1) tries.push({ part: 'middle', enlarged: low, denoised: false, mended: true });
  if (again === 2) tries.push({ part: 'middle', enlarged: true, denoised: true });
  if (misses % 10 === 9) tries.push({ part: 'full', enlarged: low, denoised: false });
  return tries;
}

/**
 * The try at the nth frame of a sweep. The whole frame each time; every third one enlarged and denoised, which takes
 * four times as long and reads small or wet labels that the plain way does not.
 */
export function sweepAttempt(n: number, height: number): Attempt {
  const slow = n % 3 === 2;
  return { part: 'full', enlarged: height <= LOW || slow, denoised: slow };
}

// The numbers are the library's own encoding: its public functions take RGBA or files only, while
// readBarcodesFromPixmap takes grey as the camera gives it. Internal: zxing-wasm's version is pinned.
const OPTIONS = {
  // Naming the one format makes it 5 to 7 times faster.
  formats: 'QRCodeModel2',
  tryHarder: true,
  tryRotate: false,
  tryInvert: false,
  // In low light 100 % against 30 %.
  tryDownscale: true,
  downscaleFactor: 2,
  downscaleThreshold: 300,
  tryDenoise: false,
  binarizer: 0, // LocalAverage
  isPure: false,
  minLineCount: 2,
  // Never 1: the first found need not be the one aimed at.
  maxNumberOfSymbols: 255,
  validateOptionalChecksum: false,
  returnErrors: false,
  eanAddOnSymbol: 0, // Ignore
  textMode: 0, // Plain
  characterSet: 0, // Unknown: guessed
  tryCode39ExtendedMode: true,
};

interface Found {
  text: string;
  isValid: boolean;
  position: Record<'topLeft' | 'topRight' | 'bottomRight' | 'bottomLeft', Point>;
}

interface Wasm {
  HEAPU8: Uint8Array;
  _malloc(bytes: number): number;
  _free(address: number): void;
  readBarcodesFromPixmap(
    address: number,
    width: number,
    height: number,
    options: typeof OPTIONS,
  ): { size(): number; get(i: number): Found | undefined; delete?(): void };
}

/** Decodes frame after frame; keeps count of the misses between them. */
export class Engine {
  private misses = 0;
  private sweeps = 0;
  private trouble: Trouble | null = null;

  private constructor(private readonly wasm: Wasm) {}

  /** Loads the WebAssembly file from our own origin, or from `bytes`; rejects when it cannot run. */
  static async load(bytes?: ArrayBuffer): Promise<Engine> {
    const module = await prepareZXingModule({
      // The library's own default is an address on the internet.
      overrides: { locateFile: () => wasmUrl, ...(bytes && { wasmBinary: bytes }) },
      fireImmediately: true,
    });
    return new Engine(module as unknown as Wasm);
  }

  /**
   * The symbols of a frame: those of the first try that has any, or with `all` every one of the whole frame.
   * The frame stays open: whoever owns it closes it.
   */
  async look(frame: Frame, all = false): Promise<Seen> {
    const began = performance.now();
    const { width, height } = frameSize(frame);
    const cuts = new Map<Attempt['part'], { rect: Rect; luma: Luma }>();
    let symbols: SeenSymbol[] = [];
    if (all) {
      const rect = middle(width, height, 1);
      const luma = await cutLuma(frame, rect);
      // In turn as seen and enlarged: what one way misses, the next frame's other way reads.
      symbols = this.tryOnce(luma, rect, sweepAttempt(this.sweeps++, height));
      return { symbols, width, height, ms: performance.now() - began };
    }
    for (const attempt of attempts(this.misses, height)) {
      let cut = cuts.get(attempt.part);
      if (!cut) {
        const rect = middle(width, height, attempt.part === 'full' ? 1 : MIDDLE);
        cut = { rect, luma: await cutLuma(frame, rect) };
        cuts.set(attempt.part, cut);
      }
      symbols = this.tryOnce(cut.luma, cut.rect, attempt);
      if (symbols.length > 0) break;
    }
    this.misses = symbols.length > 0 ? 0 : this.misses + 1;
    if (symbols.length > 0) this.trouble = null;
    return { symbols, width, height, ms: performance.now() - began, trouble: this.trouble };
  }

  private tryOnce(luma: Luma, rect: Rect, attempt: Attempt): SeenSymbol[] {
    const scale = attempt.enlarged ? 2 : attempt.halved ? 0.5 : 1;
    const picture = attempt.enlarged ? enlarge(luma) : attempt.halved ? halve(luma) : luma;
    const found = attempt.mended ? this.mend(picture) : this.decode(picture, attempt.denoised);
    const place = ({ x, y }: Point): Point => ({ x: rect.x + x / scale, y: rect.y + y / scale });
    return found.map(({ text, position: p }) => {
      const corners = [p.topLeft, p.topRight, p.bottomRight, p.bottomLeft].map(place) as SeenSymbol['corners'];
      const mean = (axis: 'x' | 'y'): number => corners.reduce((sum, corner) => sum + corner[axis], 0) / 4;
      return { text, corners, centre: { x: mean('x'), y: mean('y') } };
    });
  }

  private mend(picture: Luma): Found[] {
    const finders = findFinders(picture);
    this.trouble = troubleOf(picture, finders);
    for (const guess of missingFinders(finders)) {
      const found = this.decode(withFinder(picture, guess), false);
      if (found.length > 0) return found;
    }
    return [];
  }

  private decode({ data, width, height }: Luma, denoised: boolean): Found[] {
    const address = this.wasm._malloc(data.length);
    if (!address) throw new RangeError(`no memory for a picture of ${width} x ${height}`);
    try {
      this.wasm.HEAPU8.set(data, address);
      const list = this.wasm.readBarcodesFromPixmap(address, width, height, { ...OPTIONS, tryDenoise: denoised });
      const found: Found[] = [];
      for (let i = 0; i < list.size(); i += 1) {
        const one = list.get(i);
        if (one?.isValid && one.text !== '') found.push(one);
      }
      // The library leaves the list to leak; at 15 frames a second that is not harmless.
      list.delete?.();
      return found;
    } finally {
      this.wasm._free(address);
    }
  }
}
