// The https page: only a registered service worker proves that the certificate is trusted.
'use strict';
(() => {
  const system = /iPhone|iPad|iPod/.test(navigator.userAgent) || (/Mac/.test(navigator.platform) && navigator.maxTouchPoints > 1)
    ? 'ios' : /Android/.test(navigator.userAgent) ? 'android' : 'computer';
  for (const part of document.querySelectorAll('[data-system]')) part.hidden = part.dataset.system !== system;

  function show(state, why = '') {
    document.body.dataset.state = state;
    for (const part of document.querySelectorAll('[data-when]')) part.hidden = part.dataset.when !== state;
    document.getElementById('why').textContent = why;
  }

  function installed(registration) {
    return new Promise((done) => {
      const worker = registration.installing ?? registration.waiting ?? registration.active;
      const look = () => {
        if (registration.active) done(true);
        else if (worker.state === 'redundant') done(false);
      };
      worker.addEventListener('statechange', look);
      look();
    });
  }

  async function check() {
    if (!window.isSecureContext) return show('insecure');
    if (!('serviceWorker' in navigator)) return show('none');
    let registration;
    try {
      registration = await navigator.serviceWorker.register('/sw.js', { updateViaCache: 'none' });
    } catch (error) {
      // After a click through the certificate's warning all else looks fine; this alone fails.
      const refused = error instanceof DOMException && error.name === 'SecurityError';
      return show(refused ? 'refused' : 'failed', `${error.name}: ${error.message}`);
    }
    return show(await installed(registration) ? 'ready' : 'failed');
  }

  void check();
})();
