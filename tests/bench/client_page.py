"""Scripts for the client's figures: they only look, with the page's own clock."""

from __future__ import annotations

#: Promises in `marked` when the scan screen is painted with viewfinder and field (`usable`), and
#: when the camera runs (`live`), ms since the navigation began.
START = """
globalThis.marked = new Promise((all) => {
  const marks = {};
  const shown = (element) => element && element.getClientRects().length > 0;
  const wanted = {
    usable: () => shown(document.querySelector('.scan-view'))
      && shown(document.querySelector('#main form input')),
    live: () => document.querySelector('.scan-view[data-state=live]') !== null,
  };
  const look = () => {
    for (const [name, there] of Object.entries(wanted)) {
      if (name in marks || !there()) continue;
      marks[name] = -1;
      // A task after the frame that draws it: by then it is on the screen.
      requestAnimationFrame(() => setTimeout(() => { marks[name] = performance.now(); }));
    }
    if (Object.keys(wanted).every((name) => marks[name] > 0)) all(marks);
    else requestAnimationFrame(look);
  };
  look();
  setTimeout(() => all(marks), 30_000);
});
"""

#: How long a fixed sum takes on the page (ms): says whether it is throttled.
SUM = """() => {
  const began = performance.now();
  let x = 0;
  for (let i = 0; i < 5e6; i += 1) x = (x + i * i) % 1000003;
  return performance.now() - began + (x < 0 ? 1 : 0);
}"""

#: Types a text into Find as one input and waits until the answer is painted; returns ms and rows.
FIND = """async (text) => {
  const box = document.querySelector('#main input[type=search]');
  const set = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value').set;
  await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  const began = performance.now();
  set.call(box, text);
  box.dispatchEvent(new Event('input', { bubbles: true }));
  await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  const took = performance.now() - began;
  return [took, document.querySelector('#main [role=status]').textContent];
}"""

#: Watches the camera's picture and the app's word that a record is stored. `onsets`: for each label
#: that comes into view, the moment its first frame was taken, at the earliest that it can have
#: been (frames that the busy page never looked at may have shown it already). `ticks`: when the
#: word was drawn. Both on the page's clock (ms).
TICKS = """
(() => {
  const onsets = (globalThis.onsets = []), ticks = (globalThis.ticks = []);
  const sketch = document.createElement('canvas');
  const [width, height] = [(sketch.width = 64), (sketch.height = 36)];
  const context = sketch.getContext('2d', { willReadFrequently: true });
  let before = false, frames = 0, mean = 0;
  const look = (video) => (now, about) => {
    video.requestVideoFrameCallback(look(video));
    context.drawImage(video, 0, 0, width, height);
    const { data } = context.getImageData(width / 4, height / 4, width / 2, height / 2);
    let [low, high] = [255, 0];
    for (let i = 0; i < data.length; i += 4) {
      low = Math.min(low, data[i]);
      high = Math.max(high, data[i]);
    }
    const label = high - low > 70;
    const missed = frames ? about.presentedFrames - frames - 1 : 0;
    frames = about.presentedFrames;
    if (label && !before) {
      const taken = about.captureTime ?? about.presentationTime;
      onsets.push(Math.min(taken, now) - Math.max(0, missed) * globalThis.frameMs);
    }
    before = label;
  };
  const watched = new WeakSet();
  new MutationObserver((changes) => {
    const video = document.querySelector('.scan-view video');
    if (video && !watched.has(video)) {
      watched.add(video);
      video.requestVideoFrameCallback(look(video));
    }
    for (const { addedNodes } of changes) for (const node of addedNodes) {
      if (node.classList?.contains('toast-ok')) {
        // Once it is drawn, as a person sees it.
        requestAnimationFrame(() => setTimeout(() => ticks.push(performance.now())));
      }
    }
  }).observe(document, { childList: true, subtree: true });
})();
"""

#: `drawn`: resolves with the Unix ms when a place's page has drawn that so many bags stand there.
DRAWN = """(count) => {
  globalThis.drawn = new Promise((done) => {
    const look = () => {
      const said = document.querySelector('#main .figures b')?.textContent;
      if (said !== String(count)) return requestAnimationFrame(look);
      // A task after the frame that draws it: by then it is on the screen.
      const now = () => performance.timeOrigin + performance.now();
      requestAnimationFrame(() => setTimeout(() => done(now())));
    };
    look();
  });
  return null;
}"""

#: Keeps when the last key of a hand scanner was pressed, as Unix ms.
ENTER = """addEventListener('keydown', (event) => {
  if (event.key === 'Enter') globalThis.entered = performance.timeOrigin + performance.now();
}, true)"""

#: Whether the home screen's figures, the live bags by stage, add up to a number of bags.
STANDING = """(bags) => {
  const figures = [...document.querySelectorAll('#main .figures b')];
  return figures.reduce((sum, b) => sum + Number(b.textContent.replace(/\\D/g, '')), 0) === bags;
}"""
