/**
 * The bench: a scan says which bag, the scale says how much, and when both are there the weight is saved with
 * no touch, in whichever order they come. A doubtful weight is asked about; scanning the same label again, or
 * weighing the same again, says yes. What lies between scanner, scale and log; it draws nothing.
 */
import { signal } from '@preact/signals';
import { t } from '../i18n';
import { weight } from '../i18n/format';
import type { Draft } from '../app-types';
import { save } from '../ui/act';
import { anyName } from '../ui/names';
import { say } from '../ui/toast';
import { tell } from '../scan/feedback';
import { pickDoubt, weighDoubt, type PickDoubt, type WeighDoubt } from '../scale/doubt';
import type { LineReading, ScaleUnit } from '../scale/lines';
import { LEAST_G, Pan, SPREAD_G, type PanState } from '../scale/pan';
import { findTarget, type Target } from '../screens/target';
import { pickKnown, weighKnown } from './known';

export type Purpose = 'pick' | 'weigh';
export type When = 'filled' | 'cooled' | 'before_soak' | 'after_soak';
export interface Asked { grams: number; tare: number; doubt: PickDoubt | WeighDoubt }
/** Something about the scale that a person must know; the sentence is `bench.<word>`. */
export type Trouble = 'noisy' | 'over' | 'no_unit' | 'unit_changed' | null;

/** As near as this a load weighed again is the same one. */
const SAME_SHARE = 0.02;

export class BenchRun {
  readonly purpose = signal<Purpose>('pick');
  readonly when = signal<When>('filled');
  readonly target = signal<Target | null>(null);
  readonly flush = signal(1);
  readonly state = signal<PanState | 'none'>('none');
  /** Net, whole grams. */
  readonly net = signal(0);
  readonly tare = signal(0);
  readonly crate = signal('');
  readonly asked = signal<Asked | null>(null);
  readonly trouble = signal<Trouble>(null);
  private readonly pan = new Pan();
  private busy = false;

  constructor(readonly round: string, private readonly tares: Record<string, number> = {}) {}

  /** A line of the scale. */
  heard(reading: LineReading, typed = false): void {
    if (typed) {
      // A scale that types sends one reading, when a person or the scale itself means it.
      if (reading.kind === 'weight') void this.keyed(Math.floor(reading.grams + 0.5));
      return;
    }
    const { state, unitChanged, noisy } = this.pan.feed(reading);
    if (reading.kind === 'no_unit') this.trouble.value = 'no_unit';
    else if (noisy) this.trouble.value = 'noisy';
    else if (state === 'over') this.trouble.value = 'over';
    else if (unitChanged) this.trouble.value = 'unit_changed';
    else if (reading.kind === 'weight' && this.trouble.value !== 'unit_changed') this.trouble.value = null;
    this.state.value = state;
    this.net.value = this.pan.net;
    if (state === 'still') void this.settle();
  }

  /** The cable went, or another scale is listened to. */
  lost(): void {
    this.pan.reset();
    this.state.value = 'none';
    this.net.value = 0;
    this.trouble.value = null;
  }

  /** A scanned code: a crate brings its tare, a bag is what the weight is of; the same bag again says yes. */
  async scanned(code: string): Promise<void> {
    if (code.startsWith('K')) {
      this.crate.value = code;
      const known = this.tares[code];
      if (known !== undefined) this.setTare(known);
      say('ok', known === undefined ? t('harvest.crate', { code: anyName(code) }) : t('bench.crate_known', { code: anyName(code), weight: weight(known) }));
      return;
    }
    if (this.target.value?.code === code) {
      if (this.asked.value) await this.answer(true);
      else say('ask', t('bench.waits', { name: this.target.value.name }));
      return;
    }
    const found = await findTarget(code);
    const fits = found && (this.purpose.value === 'pick' ? found.type !== 'thing' && found.of.length > 0 : found.type === 'part');
    if (!found || !fits) {
      tell('wrong');
      say('bad', found ? t(`bench.wrong.${this.purpose.value}`, { name: found.name }) : `${t('bag.unknown')} ${t('unknown.todo')}`);
      return;
    }
    const left = this.target.value;
    if (left) say('ask', t('bench.left', { name: left.name }));
    this.asked.value = null;
    this.target.value = found;
    this.flush.value = found.part?.next ?? Math.max(1, found.part?.flush ?? 1);
    await this.settle();
  }

  /** A weight from keys: with the crate, as the scale would show it. */
  async keyed(gross: number): Promise<void> {
    if (!this.target.value) {
      tell('wrong');
      say('ask', t('bench.scan_first'));
      return;
    }
    await this.judge(gross - Math.round(this.tare.value), Math.round(this.tare.value));
  }

  /** What lies there now is the empty crate; null grams: no crate. Kept for the crate that was scanned. */
  setTare(grams: number | null): void {
    const crate = grams ?? 0;
    this.pan.setTare(crate);
    this.tare.value = crate;
    if (this.crate.value && grams) this.tares[this.crate.value] = grams;
    this.state.value = this.state.value === 'none' ? 'none' : this.pan.state;
    this.net.value = this.pan.net;
  }

  /** The weight that lies there with whatever crate, for a tare; null while it moves. */
  get lying(): number | null {
    return this.state.value === 'still' || this.state.value === 'taken' ? Math.floor(this.pan.gross + 0.5) : null;
  }

  async answer(yes: boolean): Promise<void> {
    const asked = this.asked.value;
    if (!asked) return;
    if (!yes) {
      this.asked.value = null;
      this.pan.take(); // what lies there is not taken up again before the pan was empty
      this.state.value = this.state.value === 'none' ? 'none' : this.pan.state;
      return;
    }
    await this.store(asked.grams, asked.tare);
  }

  drop(): void {
    this.target.value = null;
    this.asked.value = null;
  }

  get knownTares(): Record<string, number> {
    return this.tares;
  }

  private async settle(): Promise<void> {
    if (this.pan.state !== 'still' || !this.target.value || this.busy) return;
    const net = this.pan.net;
    const asked = this.asked.value;
    if (asked && Math.abs(net - asked.grams) <= SPREAD_G) return; // asked of this very load
    await this.judge(net, Math.round(this.tare.value));
  }

  private async judge(net: number, tare: number): Promise<void> {
    const target = this.target.value;
    if (!target || this.busy) return;
    if (net < LEAST_G && net < 1) {
      tell('wrong');
      say('bad', t('harvest.tare_heavier'));
      return;
    }
    this.busy = true;
    try {
      const before = this.asked.value;
      const again = before !== null && Math.abs(net - before.grams) <= Math.max(SPREAD_G, before.grams * SAME_SHARE);
      const doubt = again ? null : await this.doubtOf(target, net);
      if (this.target.value !== target) return; // another was scanned meanwhile
      if (doubt) {
        this.asked.value = { grams: net, tare, doubt };
        tell('again');
        return;
      }
    } finally {
      this.busy = false;
    }
    await this.store(net, tare);
  }

  private async doubtOf(target: Target, net: number): Promise<PickDoubt | WeighDoubt | null> {
    if (this.purpose.value === 'pick') return pickDoubt(net, await pickKnown(target, this.flush.value));
    return weighDoubt(net, await weighKnown(target, this.when.value));
  }

  private async store(net: number, tare: number): Promise<void> {
    const target = this.target.value;
    if (!target || this.busy) return;
    this.busy = true;
    try {
      const pick = this.purpose.value === 'pick';
      const d: Draft['d'] = pick
        ? { g: net, of: target.of, flush: this.flush.value, ...(tare > 0 ? { tare_g: tare } : {}), ...(this.crate.value ? { crate: this.crate.value } : {}) }
        : { g: net, when: this.when.value };
      const saved = await save([{ ty: pick ? 'bag.harvested' : 'bag.weighed', sub: [target.code], rnd: this.round, d }],
        t('harvest.saved', { weight: weight(net), name: target.name }));
      if (!saved) return; // told by save(); target and load stay, and the next reading tries again
      this.pan.take();
      if (this.state.value !== 'none') this.state.value = this.pan.state;
      if (this.target.value === target) this.drop();
    } finally {
      this.busy = false;
    }
  }
}

/** Words of a unit in a reading that named none. */
export const UNITS: ScaleUnit[] = ['g', 'kg', 'lb', 'oz'];
