/** Entry of the page: preferences, data layer, routes, scanner, then one screen in the frame. */
import { render } from 'preact';
import { useEffect } from 'preact/hooks';
import { createApp } from './app';
import { Root } from './screens/Root';
import { sightings, unlockOnTouch } from './scan/feedback';
import { readBest } from './scan/read';
import { listenWedge } from './scan/wedge';
import './style/index.css';
import { app, setApp, startPrefs } from './ui/app';
import { saving } from './ui/act';
import { known } from './ui/known';
import { startRoutes, takePairCode } from './ui/route';
import { dispatch, takeText } from './ui/scanning';

setApp(createApp());
const prefs = startPrefs();
const pairCode = takePairCode();
startRoutes();
unlockOnTouch();

listenWedge((texts) => {
  if (takeText(texts)) return;
  const reading = readBest(texts, { farmTag: app().device.value?.tag ?? null, how: 'wedge', known });
  dispatch(reading, reading.kind === 'code' && sightings.byHand(reading.code, performance.now()).again);
});

/** A newer version must not take a half-filled form away. */
const busy = (): boolean => saving.value || document.querySelector('#main :is(.pad, form:not([role=search]))') !== null;

function Start() {
  useEffect(() => {
    // Asked for early and without a word: refused, the settings screen says so.
    void navigator.storage?.persist?.().catch(() => undefined);
    void import('./sw-bridge').then(({ startShell }) => startShell(busy)).catch(() => undefined); // the next start tries again
    void import('./cert-hint').then((hint) => hint.learnPlainPort()).catch(() => undefined);
  }, []);
  return <Root pairCode={pairCode} />;
}

const mount = document.getElementById('app');
if (!mount) throw new Error('index.html has no #app');
void prefs.then(() => render(<Start />, mount));
