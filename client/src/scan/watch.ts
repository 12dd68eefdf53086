/** The loop from video to decoder, and the choice of one symbol among those seen. */
import type { Decoder, Seen, SeenSymbol } from './decoder';

/** Frames are not decoded more often than this (ms): 20 a second feel immediate and spare the battery. */
const PACE = 50;

/**
 * Decodes frames of a playing video until stopped, one in flight: the next is taken when the last is
 * answered, so a slow phone drops frames and never queues them.
 *
 * `onSeen` gets every decoded frame, also those with nothing in them. `onTrouble` gets errors; the loop
 * goes on after them. Returns the stop function.
 */
export function watch(
  video: HTMLVideoElement,
  decoder: Pick<Decoder, 'look'>,
  onSeen: (seen: Seen) => void,
  onTrouble: (error: unknown) => void,
): () => void {
  let going = true;
  const next = (): void => {
    if (!going) return;
    // Fires for new pictures only, and not at all while the page is hidden.
    if ('requestVideoFrameCallback' in video) video.requestVideoFrameCallback(() => void turn());
    else requestAnimationFrame(() => void turn());
  };
  const turn = async (): Promise<void> => {
    if (!going) return;
    const began = performance.now();
    try {
      const seen = await decoder.look(video);
      if (going && seen) onSeen(seen);
    } catch (error) {
      if (going) onTrouble(error);
    }
    const rest = PACE - (performance.now() - began);
    if (rest > 0) setTimeout(next, rest);
    else next();
  };
  next();
  return () => {
    going = false;
  };
}

/** Two symbols whose distances from the middle are nearer than this factor are not told apart. */
const CLEARLY = 0.8;

/** What one frame means for somebody aiming at one label. */
export type Aim =
  | { kind: 'nothing' }
  | { kind: 'one'; symbol: SeenSymbol }
  /** Several, none clearly nearest to the middle: taking one would be a guess. */
  | { kind: 'several' };

/**
 * The symbol aimed at: of those with the lowest `rank` (ours before others) the one nearest to the
 * middle of the frame.
 */
export function aim(seen: Seen, rank: (text: string) => number): Aim {
  const middle = { x: seen.width / 2, y: seen.height / 2 };
  const ranked = seen.symbols
    .map((symbol) => ({
      symbol,
      rank: rank(symbol.text),
      distance: Math.hypot(symbol.centre.x - middle.x, symbol.centre.y - middle.y),
    }))
    .sort((a, b) => a.rank - b.rank || a.distance - b.distance);
  const [first, second] = ranked;
  if (!first) return { kind: 'nothing' };
  const rival = second && second.rank === first.rank && second.symbol.text !== first.symbol.text ? second : undefined;
  // A symbol that covers the middle is aimed at, however near the next one lies.
  const hit = first.distance < size(first.symbol) / 2;
  if (rival && !hit && first.distance > rival.distance * CLEARLY) return { kind: 'several' };
  return { kind: 'one', symbol: first.symbol };
}

function size({ corners: [a, , c] }: SeenSymbol): number {
  return Math.hypot(a.x - c.x, a.y - c.y) / Math.SQRT2;
}
