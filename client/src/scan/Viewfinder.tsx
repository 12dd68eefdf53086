/** The camera's picture with its ring: what it reads goes out once, and its result is shown in the picture. */
import type { ComponentChildren, JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { has, t } from '../i18n';
import type { Seen } from './decoder';
import { shown, sightings, tell, type Outcome, type Shown } from './feedback';
import { rank, read, type Reading } from './read';
import { useCamera, type CameraState } from './use-camera';
import { aim } from './watch';
import './scan.css';

export interface ViewfinderProps {
  /** Whether the camera is to run; it also rests while the page is hidden. */
  active?: boolean;
  /** Our farm tag, null before pairing. */
  farmTag: string | null;
  /** Whether this phone knows a code, for guesses at a damaged one. */
  known: (code: string) => boolean;
  /**
   * Gets every reading, good or bad, once for as long as the label stays in view. `again`: the same label
   * less than 3 s ago; at a harvest worth a question, never a reason to drop it. The outcome it answers
   * is sounded here; who answers none has told it already.
   */
  onReading: (reading: Reading, again: boolean) => Outcome | void | Promise<Outcome | void>;
  /** What else the running camera's track is to be steered by, under the picture. */
  extra?: (track: MediaStreamTrack | undefined) => ComponentChildren;
}

/** Live without a single code for this long (ms): say what usually helps. */
const PATIENCE_MS = 4000;

/** The result of a scan stays over the picture for this long (ms). */
const FLASH_MS = 1600;

export function Viewfinder({ active = true, farmTag, known, onReading, extra }: ViewfinderProps): JSX.Element {
  const video = useRef<HTMLVideoElement>(null);
  const [several, setSeveral] = useState(false);
  const [scans, setScans] = useState(0);
  const [trouble, setTrouble] = useState<Seen['trouble']>();
  const [flash, setFlash] = useState<{ shown: Shown; code: string } | null>(null);

  const deliver = async (reading: Reading, again: boolean): Promise<void> => {
    const answer = await onReading(reading, again);
    const plain = reading.kind !== 'code' ? 'wrong' : again ? 'again' : 'read';
    const code = reading.kind === 'code' ? reading.code : '';
    setFlash({ shown: answer ? tell(answer) : shown(plain), code });
    setScans((n) => n + 1);
  };

  const onSeen = (seen: Seen): void => {
    const readings = new Map(seen.symbols.map(({ text }) => [text, read(text, { farmTag, how: 'camera', known })]));
    const aimed = aim(seen, (text) => rank(readings.get(text) as Reading));
    setSeveral(aimed.kind === 'several');
    setTrouble(seen.trouble);
    if (aimed.kind !== 'one') return;
    const reading = readings.get(aimed.symbol.text) as Reading;
    const news = sightings.inView(reading.kind === 'code' ? reading.code : aimed.symbol.text, performance.now());
    if (news) void deliver(reading, news.again);
  };

  const { state, torch, toggleTorch, tryAgain, track } = useCamera(video, active, onSeen);
  const impatient = useElapsed(state.kind === 'live', scans, PATIENCE_MS);
  const stale = useElapsed(flash !== null, scans, FLASH_MS);

  const picture = (
    <div class="finder scan-view" data-state={state.kind}>
      <video ref={video} muted playsInline aria-label={t('scan.camera.view')} />
      {state.kind === 'live' && <div class="scan-reticle" aria-hidden="true" />}
      {state.kind === 'live' && state.hasTorch && (
        <button type="button" class="btn scan-torch" aria-pressed={torch} onClick={toggleTorch}>
          {t(torch ? 'scan.torch.off' : 'scan.torch.on')}
        </button>
      )}
      {flash && !stale && <Flash {...flash} />}
      <div class="scan-said" role="status">
        <p>{t(saidBy(state, several, impatient, trouble))}</p>
        {state.kind === 'fault' && (
          <button type="button" class="btn" onClick={tryAgain}>
            {t('scan.camera.again')}
          </button>
        )}
      </div>
    </div>
  );
  return extra ? <>{picture}{extra(track())}</> : picture;
}

const SHAPES: Record<Shown['shape'], string> = {
  dot: 'M20 12a8 8 0 1 0 .01 0z',
  tick: 'M7 21l9 9L33 11',
  twice: 'M5 21l7 7L24 12M18 27l3 3L36 12',
  cross: 'M9 9l22 22M31 9L9 31',
};

function Flash({ shown: { tone, shape, word }, code }: { shown: Shown; code: string }): JSX.Element {
  return (
    <div class={`note note-${tone} scan-flash`} aria-hidden="true">
      <svg width="32" height="32" viewBox="0 0 40 40" fill="none" stroke="currentColor" stroke-width="5">
        <path d={SHAPES[shape]} stroke-linecap="round" stroke-linejoin="round" />
      </svg>
      <strong>
        {t(word)} <span class="code">{code}</span>
      </strong>
    </div>
  );
}

function saidBy(state: CameraState, several: boolean, impatient: boolean, trouble: Seen['trouble']): string {
  if (state.kind === 'fault') return `scan.camera.${state.fault}`;
  if (state.kind !== 'live') return `scan.camera.${state.kind}`;
  if (several) return 'scan.hint.several';
  if (!impatient) return 'scan.camera.live';
  // These texts come with the rest, when that is there.
  const id = `scan.hint.${trouble}`;
  return has(id) ? id : 'scan.hint.nothing';
}

/** Whether `on` has lasted for `ms` without a change of `since`. */
function useElapsed(on: boolean, since: number, ms: number): boolean {
  const [elapsed, setElapsed] = useState(false);
  useEffect(() => {
    setElapsed(false);
    if (!on) return undefined;
    const timer = setTimeout(() => setElapsed(true), ms);
    return () => clearTimeout(timer);
  }, [on, since, ms]);
  return elapsed;
}
