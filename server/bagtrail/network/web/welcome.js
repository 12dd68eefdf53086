// The plain-http page: waits until this device trusts the farm's certificate, then hands over to https.
'use strict';
(() => {
  const { origin, here, tag } = document.body.dataset;
  const EVERY_MS = 2000;
  // So many times the number answers and the name does not, before the number is offered.
  const MISSES = 4;

  const system = /iPhone|iPad|iPod/.test(navigator.userAgent) || (/Mac/.test(navigator.platform) && navigator.maxTouchPoints > 1)
    ? 'ios' : /Android/.test(navigator.userAgent) ? 'android' : 'computer';
  for (const part of document.querySelectorAll('[data-system]')) {
    const ours = part.dataset.system.split(' ').includes(system);
    if (part.tagName === 'DETAILS') part.open = ours;
    else part.hidden = !ours;
  }

  function show(state) {
    for (const part of document.querySelectorAll('[data-when]')) part.hidden = part.dataset.when !== state;
  }

  async function answers(base) {
    try {
      const stop = AbortSignal.timeout ? { signal: AbortSignal.timeout(5000) } : {};
      const reply = await fetch(`${base}/api/ping`, { credentials: 'omit', cache: 'no-store', ...stop });
      const said = await reply.json();
      return said.k === 'ping1' && said.tag === tag;
    } catch {
      return false; // not trusted, not found or not ours: the page cannot tell which
    }
  }

  let misses = 0;
  async function look() {
    if (await answers(origin)) {
      show('going');
      location.replace(`${origin}/hello.html`);
      return;
    }
    if (here && here !== origin && await answers(here)) misses += 1;
    if (misses >= MISSES) show('here');
    setTimeout(look, EVERY_MS);
  }

  // Sent back from the https page: a probe passes after a click through the warning, so it proves nothing.
  if (location.hash === '#refused') show('refused');
  else void look();
})();
