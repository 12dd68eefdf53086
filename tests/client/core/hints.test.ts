import { afterEach, describe, expect, it, vi } from 'vitest';
import { Hints, type Word } from '../../../client/src/hints';

const soon = () => new Promise((done) => { setTimeout(done); });

/** Says these words one after the other, then waits for ever. */
function saying(...words: (Word | Error)[]) {
  return vi.fn(async (): Promise<Word> => {
    const word = words.shift();
    if (word instanceof Error) throw word;
    return word ?? new Promise<Word>(() => undefined);
  });
}

function hints(ask: () => Promise<Word>, fetched = vi.fn(async () => true)) {
  const made = new Hints(ask, fetched);
  made.start();
  return { made, fetched };
}

afterEach(() => vi.unstubAllGlobals());

describe('hints', () => {
  it('fetch when there is news, and go on waiting', async () => {
    const ask = saying('none', 'news', 'news');
    const { made, fetched } = hints(ask);
    made.wait();
    made.wait(); // one request at a time
    await soon();
    expect([ask.mock.calls.length, fetched.mock.calls.length]).toEqual([4, 2]);
  });

  it.each([['the server has no place', 'later'], ['it fails', new Error('silent')]] as const)('end where %s, until the next good exchange', async (_, word) => {
    const ask = saying(word);
    const { made, fetched } = hints(ask);
    made.wait();
    await soon();
    expect([ask.mock.calls.length, fetched.mock.calls.length]).toEqual([1, 0]);
    made.wait();
    await soon();
    expect(ask).toHaveBeenCalledTimes(2);
  });

  it('do not go round in circles where fetching brings nothing', async () => {
    const ask = vi.fn(async (): Promise<Word> => 'news');
    const { made, fetched } = hints(ask, vi.fn(async () => false));
    made.wait();
    await soon();
    expect([ask.mock.calls.length, fetched.mock.calls.length]).toEqual([1, 1]);
  });

  it('are not asked for in the background, nor after the end', async () => {
    const ask = saying('none', 'none');
    const { made } = hints(ask);
    vi.stubGlobal('document', { visibilityState: 'hidden' });
    made.wait();
    await soon();
    expect(ask).not.toHaveBeenCalled();
    vi.stubGlobal('document', { visibilityState: 'visible' });
    made.stop();
    made.wait();
    await soon();
    expect(ask).not.toHaveBeenCalled();
  });
});
