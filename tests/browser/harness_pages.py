"""What tests run in the app's pages: stores are read, sentences kept, screens waited for."""

from __future__ import annotations

#: Reads a store of the newest database whose name begins so; null where there is none.
STORED = """
async ([base, store, ask]) => {
  const name = (await indexedDB.databases()).map((one) => one.name)
    .filter((one) => one.startsWith(base)).sort().at(-1);
  if (!name) return null;
  return new Promise((done, failed) => {
    const open = indexedDB.open(name);
    open.onerror = () => failed(open.error);
    open.onsuccess = () => {
      const found = open.result.transaction(store).objectStore(store);
      const asked = ask === 'own' ? found.index('n').getAll()
        : ask === 'waiting' ? found.index('q').count() : found.getAll();
      asked.onsuccess = () => {
        open.result.close();
        done(ask === 'waiting' ? asked.result : asked.result.map((row) => row.text));
      };
      asked.onerror = () => failed(asked.error);
    };
  });
}
"""
#: The texts of all own records, in order; how many wait, as the app's own index counts them; and
#: the texts of the rows that were fetched.
OUTBOX = ["bagtrail-outbox", "records", "own"]
QUEUED = ["bagtrail-outbox", "records", "waiting"]
ROWS = ["bagtrail-view", "units", "all"]

#: In every page from its start: each sentence of a toast is kept, for a toast goes by itself; and
#: whether a way back is still under way, which would undo the next change of the address.
KEPT = """
(() => {
  if (globalThis.told) return;
  globalThis.told = [];
  globalThis.goingBack = 0;
  const heard = (node) => {
    const all = node.matches?.('.toast') ? [node] : [...node.querySelectorAll?.('.toast') ?? []];
    for (const one of all) globalThis.told.push(one.textContent.replace(/\\s+/g, ' ').trim());
  };
  new MutationObserver((all) => all.forEach((one) => one.addedNodes.forEach(heard)))
    .observe(document, { childList: true, subtree: true });
  const back = history.back.bind(history);
  history.back = () => { globalThis.goingBack += 1; back(); };
  addEventListener('popstate', () => { globalThis.goingBack = 0; });
})()
"""

#: Comes back when nothing has changed for so many ms.
QUIET = """
(ms) => new Promise((done) => {
  let timer = 0;
  const watch = new MutationObserver(() => again());
  const end = () => { watch.disconnect(); clearTimeout(timer); clearTimeout(last); done(); };
  const again = () => { clearTimeout(timer); timer = setTimeout(end, ms); };
  const last = setTimeout(end, 10_000);
  watch.observe(document.body, { childList: true, subtree: true });
  again();
})
"""

#: Changes the route, and comes back when its screen is drawn and listens.
GO = """
async (route) => {
  const pause = (ms) => new Promise((done) => setTimeout(done, ms));
  // A frame, and the task after it, in which a screen begins to listen; a page behind has none.
  const frame = () => Promise.race([new Promise((done) => requestAnimationFrame(done)), pause(200)])
    .then(() => pause(0));
  const until = async (true_) => { for (let i = 0; i < 500 && !true_(); i += 1) await pause(10); };
  const to = async (hash) => {
    if (location.hash === hash) return;
    const changed = new Promise((done) => addEventListener('hashchange', done, { once: true }));
    location.hash = hash;
    await Promise.race([changed, pause(5000)]);
  };
  const want = '#/' + route;
  // A form that was just saved goes back by itself, and may do so after us.
  await until(() => !globalThis.goingBack);
  if (location.hash === want) await to('#/more');
  await to(want);
  // A screen that is still fetched, or looks its thing up, has no heading.
  await until(() => document.querySelector('#main h1'));
  for (let i = 0; i < 2; i += 1) await frame();
  // These only lead on to another address.
  return (location.hash === want || /^#\\/(round|c|hands)\\//.test(want)) && !globalThis.goingBack;
}
"""
