/**
 * Sends photographs one after the other, in pieces, and goes on where the line was cut; asks which are wanted again
 * and which may be let go. One tab at a time. Records never wait for it.
 */
import { effect, signal } from '@preact/signals';
import { AppError, type App } from '../app-types';
import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { PhotoStore } from './store';

/** Bytes of one piece: a bad line loses no more than this. */
export const PIECE = 96 << 10;
const SOON_MS = 20_000;
const LOOK_MS = 30 * 60_000;
/** Answers that will be the same next time; a full farm may have room later. */
const FOR_GOOD = ['bad_photo', 'bad_fields'];

export class PhotoQueue {
  readonly waiting = signal(0);
  /** Grows when pictures came or went. */
  readonly changed = signal(0);
  /** Why it stands still, where a person must know: the sentence is `photo.stuck.<word>`. */
  readonly stuck = signal<'full' | null>(null);
  private timer: ReturnType<typeof setTimeout> | undefined;
  private running = false;
  private looked = -Infinity;

  constructor(private readonly app: () => App, readonly store = new PhotoStore()) {}

  start(): void {
    addEventListener('online', () => this.soon(0));
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.soon(0); });
    let before = '';
    effect(() => {
      const { state } = this.app().link.value;
      if (state === 'ok' && before !== 'ok') {
        // Away and back: the farm's computer may have been put back meanwhile, and lack what it had.
        this.looked = -Infinity;
        this.soon();
      }
      before = state;
    });
    this.soon(0);
  }

  /** Keeps a picture and returns its name; throws AppError `photos_full`. */
  async keep(bytes: Uint8Array<ArrayBuffer>): Promise<string> {
    const sha = bytesToHex(sha256(bytes));
    await this.store.put(sha, bytes, Date.now());
    await this.count();
    return sha;
  }

  /** Its record could not be written: nobody would ever see it. */
  async forget(sha: string): Promise<void> {
    await this.store.drop([sha]);
    await this.count();
  }

  soon(ms = 200): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => { void this.run(); }, ms);
  }

  /** One walk over all that waits; never throws. */
  async run(): Promise<void> {
    if (this.running) return;
    this.running = true;
    let after = LOOK_MS;
    try {
      const work = async (): Promise<void> => {
        // No room to mark what is wanted again: what waits is sent all the same.
        await this.look().catch(() => undefined);
        await this.send();
      };
      if (navigator.locks) await navigator.locks.request('bagtrail-photos', { ifAvailable: true }, async (lock) => { if (lock) await work(); });
      else await work();
      if (await this.count()) after = SOON_MS;
    } catch {
      after = SOON_MS; // no network, or no storage: both are told elsewhere
    } finally {
      this.running = false;
      this.soon(after);
    }
  }

  private async look(): Promise<void> {
    if (Date.now() - this.looked < LOOK_MS) return;
    const names = (await this.store.names()).slice(0, 1_000);
    if (names.length) {
      const { missing, safe } = await this.app().photosStanding(names);
      for (const sha of missing) {
        const kept = await this.store.get(sha);
        // What waits anyway is not written anew: a full device could not, and would send nothing.
        if (kept && !kept.refused && !kept.q) await this.store.again(sha);
      }
      await this.store.drop(safe);
    }
    this.looked = Date.now();
  }

  private async send(): Promise<void> {
    for (let one = await this.store.next(); one; one = await this.store.next()) {
      try {
        await this.sendOne(one.sha, new Uint8Array(one.data));
        this.stuck.value = null;
        await this.store.settled(one.sha);
      } catch (error) {
        const code = error instanceof AppError ? error.code : '';
        if (code === 'photos_full') this.stuck.value = 'full';
        if (!FOR_GOOD.includes(code)) throw error;
        await this.store.settled(one.sha, code);
      }
      await this.count();
    }
  }

  private async sendOne(sha: string, data: Uint8Array): Promise<void> {
    let { have, whole } = await this.app().photoPart({ sha256: sha, bytes: data.length, offset: 0, data: '' });
    while (!whole) {
      const piece = data.subarray(have, have + PIECE);
      const got = await this.app().photoPart({ sha256: sha, bytes: data.length, offset: have, data: base64(piece) });
      if (!got.whole && got.have <= have) throw new Error('the farm\u2019s computer took nothing');
      ({ have, whole } = got);
    }
  }

  private async count(): Promise<number> {
    this.waiting.value = await this.store.waiting();
    this.changed.value += 1;
    return this.waiting.value;
  }
}

function base64(bytes: Uint8Array): string {
  let text = '';
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}
