/** A farm's computer in memory: the push, pull and snapshot of the contract, and everything that goes wrong on the way. */
import { createHash } from 'node:crypto';
import { chain, ZERO_HASH } from '../../../client/src/chain';
import { findRowOf } from '../../../client/src/findrow';
import { Farm } from '../../../client/src/fold';
import { lineOfPulled, type Pulled } from '../../../client/src/pull';
import { macOf, resetText, streamKey } from '../../../client/src/mac';
import type { Pairing } from '../../../client/src/outbox';
import { isArchived, summaryRow } from '../../../client/src/scope';

export const PAIRING: Pairing = {
  farm: 'f0123456789abcdef', tag: '7K3Q', name: 'Alder Hollow', zone: 'Europe/London', dev: 'd0123456789abcdef', gen: 1,
  key: '11'.repeat(32), role: 'owner', by: 'W00000012', letter: 'A',
};

interface Entry { id: string; st: string; sq: number; text: string; mac: string; receipt: string; rmac: string; h: string }
type Call = { path: string; body: any };

export class FakeServer {
  log: Entry[] = [];
  epoch = 'e00000000001';
  calls: Call[] = [];
  /** What happens to the next requests, one each: a status, or something worse. */
  /** Whether it takes another farm's records. */
  foreign: 'taken' | 'refused' = 'taken';
  faults: ('html' | 'empty' | 'drop' | 'drop-after' | 'other-farm' | 'replay' | 'cut' | number)[] = [];
  /** Bodies above this answer 413. */
  most = 1 << 20;
  later = new Set<string>();
  headers: Record<string, string> = {};
  skew = 0;
  /** Up to where two good backups hold the log. */
  durable = 0;
  /** What the owner has not confirmed since the log was put back may push, not pull. */
  unconfirmed = false;
  /** The device's key was taken back: `proved` is the server's own word, `plain` could be anybody's. */
  revoked: 'proved' | 'plain' | null = null;
  /** Epochs of this log, oldest first. */
  epochs = ['e00000000001'];
  /** What becomes of a record whatever else is true of it: a word for its id. */
  words = new Map<string, string>();
  /** Nobody answers at all. */
  down = false;
  /** Batches whose lines fit into one answer. */
  mostUnits = 500;
  /** Called when a request is answered and before the answer goes out. */
  onAnswer: ((path: string) => void) | null = null;
  private lastGood = '';

  fetch = async (url: string, init: RequestInit): Promise<Response> => {
    const fault = this.down ? 'drop' : this.faults.shift();
    if (fault === 'drop') throw new TypeError('Failed to fetch');
    const text = await this.read(init);
    this.calls.push({ path: url, body: text ? JSON.parse(text) : null });
    if (fault === 'html') return new Response('<html>Welcome</html>', { headers: { 'content-type': 'text/html' } });
    if (fault === 'empty') return json(200, {});
    if (typeof fault === 'number') return json(fault, { error: { code: 'busy', message: 'Busy.', todo: '', details: {} } }, this.headers);
    if (fault === 'replay') return new Response(this.lastGood, { headers: { 'content-type': 'application/json' } });
    if (text.length > this.most) return json(413, { error: { code: 'too_big', message: 'Too big.', todo: '', details: {} } });
    const reply = this.answer(url, text ? JSON.parse(text) : null);
    const told = this.onAnswer;
    this.onAnswer = null;
    told?.(url);
    if (fault === 'drop-after') throw new TypeError('Failed to fetch');
    if (fault === 'other-farm') return json(200, { ...reply.body, farm: 'fother' });
    const out = JSON.stringify(reply.body);
    if (fault === 'cut') return new Response(out.slice(0, out.length / 2), { headers: { 'content-type': 'application/json' } });
    if (reply.status === 200) this.lastGood = out;
    return new Response(out, { status: reply.status, headers: { 'content-type': 'application/json' } });
  };

  /** Puts the log back to an earlier place, as an older backup does. */
  rewind(pos: number, epoch: string): void {
    this.log = this.log.slice(0, pos);
    this.durable = Math.min(this.durable, pos);
    this.epoch = epoch;
    this.epochs = [...this.epochs, epoch];
  }

  ids(): string[] {
    return this.log.map(({ id }) => id);
  }

  /** Writes a record of another device into the log. */
  elsewhere(record: Record<string, unknown>): void {
    const at = Date.now();
    const st = 'bbbbbbbbbbbbbbbb';
    const sq = this.log.filter((entry) => entry.st === st).length + 1;
    const id = `00000000-0000-7000-9000-${String(this.log.length + 1).padStart(12, '0')}`;
    this.take(JSON.stringify({
      v: 1, id, dev: 'dbbbbbbbbbbbbbbbb', gen: 1, st, sq, at, cl: { w: at, o: 0, q: 'sync' }, tz: 0, tv: 1, sub: [],
      base: `${this.epoch}.${this.log.length}`, by: 'W00000012', d: {}, ...record,
    }), '');
  }

  private async read(init: RequestInit): Promise<string> {
    if (init.body === undefined) return '';
    if (typeof init.body === 'string') return init.body;
    const stream = new Response(init.body as ArrayBuffer).body!.pipeThrough(new DecompressionStream('gzip'));
    return new Response(stream).text();
  }

  private answer(url: string, body: any): { status: number; body: any } {
    const path = url.split('?')[0];
    const query = new URLSearchParams(url.split('?')[1] ?? '');
    if (path === '/api/devices/pair') return { status: 200, body: { k: 'pair1', ...PAIRING } };
    const proof = body ? body.proof : query.get('c') ?? '';
    const nonce = body ? body.nonce : query.get('nonce') ?? '';
    const st = body ? body.st : query.get('st') ?? '';
    if (proof && !this.knows(proof)) {
      const mac = macOf(streamKey(PAIRING.key, st), resetText(PAIRING.farm, this.epoch, nonce));
      return { status: 409, body: { k: 'reset', farm: PAIRING.farm, epoch: this.epoch, nonce, mac, error: { code: 'wrong_log', message: 'Put back.', todo: '', details: {} } } };
    }
    const top = this.log.length;
    const head = `${top}.${this.hash(top)}`;
    const durable = this.durable;
    if (path === '/api/sync/offer') {
      const known = new Set(this.log.map((entry) => idIn(entry)));
      const want = [...new Set(body.ids as string[])].filter((id) => !known.has(id));
      return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, now: Date.now() + this.skew, head, durable, want } };
    }
    if (path !== '/api/sync/push' && this.unconfirmed) {
      return { status: 403, body: { error: { code: 'unconfirmed', message: 'Not confirmed.', todo: '', details: {} } } };
    }
    if (path !== '/api/sync/push' && this.revoked) {
      const mac = macOf(streamKey(PAIRING.key, st), `revoked.${PAIRING.farm}.${nonce}`);
      const proof = this.revoked === 'proved' ? { k: 'revoked', farm: PAIRING.farm, nonce, mac } : { k: 'revoked', farm: PAIRING.farm, nonce, mac: '0'.repeat(32) };
      return { status: 403, body: { ...proof, error: { code: 'revoked', message: 'Taken back.', todo: '', details: {} } } };
    }
    if (path === '/api/sync/foreign') {
      if (this.foreign === 'refused') return { status: 403, body: { error: { code: 'not_allowed', message: 'No.', todo: '', details: {} } } };
      const r = body.records.map((record: string[]) => this.take(record[0] as string, record[1] as string)).map(([id, code, ...rest]: any[]) => [id, code === 'ok' ? 'held' : code, ...rest]);
      return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, now: Date.now() + this.skew, head: `${this.log.length}.${this.hash(this.log.length)}`, durable, contig: {}, r } };
    }
    if (path === '/api/sync/push') {
      const r = body.records.map((record: string[]) => this.take(record[0] as string, record[1] as string, record[2], record[3]));
      const contig = Object.fromEntries([...new Set([st, ...this.log.map((entry) => entry.st)])].map((one) => [one, this.contig(one)]));
      return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, now: Date.now() + this.skew, head: `${this.log.length}.${this.hash(this.log.length)}`, durable, contig, r } };
    }
    if (path === '/api/sync/lines') {
      const farm = this.folded();
      const there = new Set(farm.units());
      const units = ((body.units ?? []) as string[]).slice(0, this.mostUnits);
      const lines = units.map((unit) => [unit, there.has(unit) ? farm.row(unit).lines.filter(({ p }) => p <= body.pos) : []]);
      const ids = new Set((body.records ?? []) as string[]);
      const leads = farm.rows().filter((row) => row.unit.startsWith('M') && row.lines.some(({ id }) => ids.has(id))).map(({ unit }) => unit);
      return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, now: Date.now() + this.skew, head, durable, lines: JSON.parse(JSON.stringify(lines)), leads } };
    }
    if (path === '/api/sync/snapshot') {
      const farm = this.folded();
      const rows = farm.rows();
      const short = query.get('scope') === 'live' ? rows.filter((row) => isArchived(row, Date.now() + this.skew)) : [];
      const archived = short.map((row) => [JSON.stringify(summaryRow(row)), findRowOf(farm.unit(row.unit), row.lines, farm)]);
      const whole = JSON.parse(JSON.stringify(rows.filter((row) => !short.includes(row))));
      return { status: 200, body: { k: 'snap1', farm: PAIRING.farm, epoch: this.epoch, epochs: this.epochs, pos: top, h: this.hash(top), rows: whole, archived } };
    }
    const from = Number(query.get('back') ?? (query.get('c') ?? '').split('.')[1] ?? 0);
    const to = Math.min(top, from + Number(query.get('limit')));
    return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, now: Date.now() + this.skew, from, to, h: this.hash(to), epochs: this.epochs, more: to < top, head, durable, records: this.pulled(from, to) } };
  }

  private folded(): Farm {
    const farm = new Farm();
    farm.index.epochs = [...this.epochs];
    this.pulled(0, this.log.length).forEach((one) => farm.add(lineOfPulled(one)));
    return farm;
  }

  private pulled(from: number, to: number): Pulled[] {
    return this.log.slice(from, to).map(({ text, mac, receipt, rmac }, i) => [text, mac, receipt, rmac, from + i + 1]);
  }

  private take(text: string, mac: string, receipt?: string, rmac?: string): unknown[] {
    const { id, st, sq, at, dev } = JSON.parse(text) as { id: string; st: string; sq: number; at: number; dev: string };
    const word = this.words.get(id);
    if (word) return [id, word, 0, '', ''];
    if (this.later.has(id)) return [id, 'later', 0, '', ''];
    if (text.length > 16_384) return [id, 'big', 0, '', ''];
    if (dev === PAIRING.dev && mac !== macOf(streamKey(PAIRING.key, st), text)) return [id, 'unauthentic', 0, '', ''];
    const said0 = receipt ? (JSON.parse(receipt) as { id: string }).id : id;
    const known = this.log.findIndex((entry) => idIn(entry) === said0);
    if (known >= 0 && this.log[known]!.text === text) return [id, 'dup', known + 1, this.log[known]!.receipt, this.log[known]!.rmac];
    // Another text under a known id is stored beside it, under an id of its own.
    const differs = known >= 0;
    const rid = differs ? derived(id, text) : said0;
    const there = differs ? this.log.findIndex((entry) => idIn(entry) === rid) : -1;
    if (there >= 0) return [id, 'differs', there + 1, this.log[there]!.receipt, this.log[there]!.rmac];
    const fork = this.log.some((entry) => entry.st === st && entry.sq === sq);
    const pos = this.log.length + 1;
    const said = !differs && receipt ? receipt
      : JSON.stringify({ id: rid, h: '', e: this.epoch, p: pos, t: Math.min(at, Date.now() + this.skew + 120_000), q: 'sync', f: differs ? 'differs' : '', a: 'o', dev });
    this.log.push({ id, st, sq, text, mac, receipt: said, rmac: rmac ?? 'r', h: chain(this.hash(pos - 1), text, said) });
    return [id, differs ? 'differs' : fork ? 'fork' : 'ok', pos, said, rmac ?? 'r'];
  }

  private contig(st: string): number {
    const have = new Set(this.log.filter((entry) => entry.st === st).map(({ sq }) => sq));
    let n = 0;
    while (have.has(n + 1)) n += 1;
    return n;
  }

  private knows(proof: string): boolean {
    const [epoch, pos, h] = proof.split('.');
    return epoch === this.epoch && (pos === '0' || this.hash(Number(pos)) === h);
  }

  private hash(pos: number): string {
    return pos === 0 ? ZERO_HASH : this.log[pos - 1]?.h ?? '';
  }
}

/** The id a record is known by: its receipt's. */
const idIn = ({ receipt }: Entry): string => (JSON.parse(receipt) as { id: string }).id;

function derived(id: string, text: string): string {
  const hex = createHash('sha256').update(id + text).digest('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-8${hex.slice(13, 16)}-8${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}

function json(status: number, body: unknown, headers: Record<string, string> = {}): Response {
  return new Response(JSON.stringify(body), { status, headers: { 'content-type': 'application/json', ...headers } });
}
