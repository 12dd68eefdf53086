/** A phone for tests: an App on databases of its own, paired, with sync run by hand. */
import 'fake-indexeddb/auto';
import { createApp, type Core } from '../../../client/src/app';
import { Clock } from '../../../client/src/clock';
import { View } from '../../../client/src/db';
import { Others } from '../../../client/src/others';
import { Outbox, type Pairing } from '../../../client/src/outbox';
import { PAIRING, type FakeServer } from './fake-server';

let made = 0;
const running: Core[] = [];

export interface Phone {
  app: Core;
  outbox: Outbox;
  view: View;
  others: Others;
  name: string;
}

/** A paired phone; `name` opens the databases of an earlier one again. */
export async function phone(server: FakeServer, name = `t${(made += 1)}`, pairing: Pairing = PAIRING, clock = new Clock()): Promise<Phone> {
  const outbox = new Outbox(`${name}-outbox`, 1_500);
  const view = new View(`${name}-view`, 1_500);
  if (!(await outbox.get('device'))) await outbox.set('device', pairing);
  const app = createApp({ fetch: (url, init) => server.fetch(url, init), outbox, view, others: `${name}-others`, clock, quiet: true });
  running.push(app);
  await app.start();
  return { app, outbox, view, others: new Others(`${name}-others`), name };
}

/** Everything of ours that the server has not named, as the outbox sees it. */
export async function waiting({ outbox }: Phone): Promise<string[]> {
  return (await outbox.queued(100_000)).map(({ id }) => id);
}

/** Runs sync until it has nothing to do; failures' back-off is skipped. */
export async function settle({ app }: Phone): Promise<void> {
  app.sync.now();
  await app.sync.run();
}

/** Stops the phones of a test: one left with a request under way would hold the lock of the next test's. */
export async function putAway(): Promise<void> {
  const stopped = Promise.all(running.splice(0).map((app) => app.stop()));
  await Promise.race([stopped, new Promise((done) => { setTimeout(done, 500); })]);
}
