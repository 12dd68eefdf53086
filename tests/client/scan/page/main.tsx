/**
 * The scanning part without the rest of the app, for tests/browser/test_camera.py, test_wedge.py and
 * test_shell.py. Real camera, worker, decoder, wedge listener and service worker bridge; what comes out
 * of them is put where a test can read it.
 */
import { render } from 'preact';
import { Viewfinder } from '../../../../client/src/scan/Viewfinder';
import { readBest, type Reading } from '../../../../client/src/scan/read';
import { sharedDecoder } from '../../../../client/src/scan/use-camera';
import { listenWedge } from '../../../../client/src/scan/wedge';
import { applyUpdate, shellState, startShell } from '../../../../client/src/sw-bridge';
import '../../../../client/src/style/index.css';

interface Scan {
  reading: Reading;
  again: boolean;
  /** ms since the page was opened. */
  at: number;
}

const wanted = new URLSearchParams(location.search);
const farmTag = wanted.get('farm');
const known = (code: string): boolean => wanted.getAll('known').includes(code);
const scans: Scan[] = [];
const wedge: Reading[] = [];
const submitted: string[] = [];
let busy = false;

const page = {
  scans,
  wedge,
  submitted,
  decodesIn: () => sharedDecoder().where,
  shell: () => shellState.value,
  setBusy: (now: boolean) => (busy = now),
  update: () => applyUpdate(() => busy),
  version: __APP_VERSION__,
};
declare global {
  interface Window {
    page: typeof page;
  }
}
window.page = page;

listenWedge((texts) => wedge.push(readBest(texts, { farmTag, how: 'wedge', known })));
void startShell(() => busy);

function Page() {
  return (
    <>
      {wanted.get('camera') !== 'off' && (
        <Viewfinder
          farmTag={farmTag}
          known={known}
          onReading={(reading, again) => {
            scans.push({ reading, again, at: performance.now() });
            return reading.kind === 'code' ? 'taken' : 'wrong';
          }}
        />
      )}
      <form
        onSubmit={(event) => {
          event.preventDefault();
          submitted.push(new FormData(event.currentTarget).get('note') as string);
        }}
      >
        <input name="note" id="note" />
        <input name="grams" id="grams" type="number" />
        <button type="submit">Go</button>
      </form>
    </>
  );
}
render(<Page />, document.getElementById('app') as HTMLElement);
