/** A farm's computer in memory: the push, pull and snapshot of the contract, and everything that goes wrong on the way. */
import { createHash } from 'node:crypto';
import { Farm } from '../../../client/src/fold';
import { lineOfPulled, type Pulled } from '../../../client/src/pull';
import { macOf, resetText, streamKey } from '../../../client/src/mac';
import type { Pairing } from '../../../client/src/outbox';

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
  faults: ('html' | 'empty' | 'drop' | 'drop-after' | 'other-farm' | 'replay' | 'cut' | number)[] = [];
  /** Bodies above this answer 413. */
  most = 1 << 20;
  later = new Set<string>();
  headers: Record<string, string> = {};
  skew = 0;
  private lastGood = '';

  fetch = async (url: string, init: RequestInit): Promise<Response> => {
    const fault = this.faults.shift();
    if (fault === 'drop') throw new TypeError('Failed to fetch');
    const text = await this.read(init);
    this.calls.push({ path: url, body: text ? JSON.parse(text) : null });
    if (fault === 'html') return new Response('<html>Welcome</html>', { headers: { 'content-type': 'text/html' } });
    if (fault === 'empty') return json(200, {});
    if (typeof fault === 'number') return json(fault, { error: { code: 'busy', message: 'Busy.', todo: '', details: {} } }, this.headers);
    if (fault === 'replay') return new Response(this.lastGood, { headers: { 'content-type': 'application/json' } });
    if (text.length > this.most) return json(413, { error: { code: 'too_big', message: 'Too big.', todo: '', details: {} } });
    const reply = this.answer(url, text ? JSON.parse(text) : null);
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
    this.epoch = epoch;
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
    const proof = path === '/api/sync/push' ? body.proof : query.get('c') ?? '';
    const nonce = path === '/api/sync/push' ? body.nonce : query.get('nonce') ?? '';
    const st = path === '/api/sync/push' ? body.st : query.get('st') ?? '';
    if (proof && !this.knows(proof)) {
      const mac = macOf(streamKey(PAIRING.key, st), resetText(PAIRING.farm, this.epoch, nonce));
      return { status: 409, body: { k: 'reset', farm: PAIRING.farm, epoch: this.epoch, nonce, mac, error: { code: 'wrong_log', message: 'Put back.', todo: '', details: {} } } };
    }
    const top = this.log.length;
    const head = `${top}.${this.hash(top)}`;
    if (path === '/api/sync/push') {
      const r = body.records.map((record: string[]) => this.take(record[0] as string, record[1] as string, record[2], record[3]));
      const contig = Object.fromEntries([...new Set([st, ...this.log.map((entry) => entry.st)])].map((one) => [one, this.contig(one)]));
      return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, now: Date.now() + this.skew, head: `${this.log.length}.${this.hash(this.log.length)}`, durable: 0, contig, r } };
    }
    if (path === '/api/sync/snapshot') {
      const farm = new Farm();
      this.pulled(0, top).forEach((one) => farm.add(lineOfPulled(one)));
      return { status: 200, body: { k: 'snap1', farm: PAIRING.farm, epoch: this.epoch, pos: top, h: this.hash(top), rows: JSON.parse(JSON.stringify(farm.rows())) } };
    }
    const from = Number((query.get('c') ?? '').split('.')[1] ?? 0);
    const to = Math.min(top, from + Number(query.get('limit')));
    return { status: 200, body: { k: 'sync1', farm: PAIRING.farm, nonce, epoch: this.epoch, from, to, h: this.hash(to), more: to < top, head, durable: 0, records: this.pulled(from, to) } };
  }

  private pulled(from: number, to: number): Pulled[] {
    return this.log.slice(from, to).map(({ text, mac, receipt, rmac }, i) => [text, mac, receipt, rmac, from + i + 1]);
  }

  private take(text: string, mac: string, receipt?: string, rmac?: string): unknown[] {
    const { id, st, sq, at, dev } = JSON.parse(text) as { id: string; st: string; sq: number; at: number; dev: string };
    if (this.later.has(id)) return [id, 'later', 0, '', ''];
    if (text.length > 16_384) return [id, 'big', 0, '', ''];
    if (dev === PAIRING.dev && mac !== macOf(streamKey(PAIRING.key, st), text)) return [id, 'unauthentic', 0, '', ''];
    const known = this.log.findIndex((entry) => entry.id === id);
    if (known >= 0) return [id, 'dup', known + 1, this.log[known]!.receipt, this.log[known]!.rmac];
    const fork = this.log.some((entry) => entry.st === st && entry.sq === sq);
    const pos = this.log.length + 1;
    const said = receipt ?? JSON.stringify({ id, h: '', e: this.epoch, p: pos, t: Math.min(at, Date.now() + this.skew + 120_000), q: 'sync', f: '', a: 'o', dev });
    const h = createHash('sha256').update(this.hash(pos - 1) + id + text + said).digest('hex').slice(0, 32);
    this.log.push({ id, st, sq, text, mac, receipt: said, rmac: rmac ?? 'r', h });
    return [id, fork ? 'fork' : 'ok', pos, said, rmac ?? 'r'];
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
    return pos === 0 ? '0'.repeat(32) : this.log[pos - 1]?.h ?? '';
  }
}

function json(status: number, body: unknown, headers: Record<string, string> = {}): Response {
  return new Response(JSON.stringify(body), { status, headers: { 'content-type': 'application/json', ...headers } });
}
