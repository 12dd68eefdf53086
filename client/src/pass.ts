/**
 * The pass of whoever has shown a PIN at this tablet: it carries the person's rights for minutes. Kept in this
 * tab's memory only, so a reload ends it; made anew while somebody touches the screen, never by what syncs alone.
 */
export const pass = { text: '' };

/** The farm's computer believes a pass for five minutes (server/bagtrail/passes.py). */
export const IDLE_MS = 5 * 60_000;
const ANEW_MS = 60_000;

let stop = (): void => {};

/** Another person, or none: the pass goes. */
export function dropPass(): void {
  stop();
}

/** Holds a pass; `anew` asks for a fresh one ('' where it is over), `over` is told once when it ends. */
export function holdPass(text: string, anew: () => Promise<string>, over: () => void): void {
  stop();
  let since = Date.now();
  let asking = false;
  const touched = (): void => {
    if (asking || Date.now() - since < ANEW_MS) return;
    asking = true;
    const began = Date.now();
    anew().then((fresh) => {
      if (!pass.text) return;
      if (!fresh) end();
      else { pass.text = fresh; since = began; }
    }, () => undefined).finally(() => { asking = false; });
  };
  const timer = setInterval(() => { if (Date.now() - since >= IDLE_MS) end(); }, 1_000);
  stop = () => {
    stop = () => {};
    clearInterval(timer);
    globalThis.removeEventListener?.('pointerdown', touched);
    pass.text = '';
  };
  const end = (): void => {
    stop();
    over();
  };
  pass.text = text;
  globalThis.addEventListener?.('pointerdown', touched);
}
