/** The camera and its decoder as state of a component: on while wanted and the page is in sight. */
import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';
import { CameraError, onCameraChange, openCamera, type Camera, type CameraFault } from './camera';
import { Decoder, DecoderError, type Seen } from './decoder';
import { watch } from './watch';

export type CameraState =
  | { kind: 'off' }
  | { kind: 'starting' }
  | { kind: 'live'; hasTorch: boolean }
  | { kind: 'fault'; fault: CameraFault | 'decoder' };

let shared: Decoder | undefined;

/** The app's one decoder, kept between screens so that the second scan starts warm. */
export function sharedDecoder(): Decoder {
  if (shared) return shared;
  // For the figures: throttling a page's CPU never reaches its workers.
  const decodeOnPage = new URLSearchParams(location.search).get('decode') === 'page';
  const decoder = new Decoder({ decodeOnPage });
  // A reader that failed to load is made anew at the next try.
  decoder.ready.catch(() => {
    decoder.close();
    if (shared === decoder) shared = undefined;
  });
  shared = decoder;
  return decoder;
}

export interface CameraControl {
  state: CameraState;
  torch: boolean;
  toggleTorch(): void;
  tryAgain(): void;
  /** The running camera's own track. */
  track(): MediaStreamTrack | undefined;
}

/** aim: one label in the middle; sweep: every label of every frame, from the most pixels the camera gives. */
export type How = 'aim' | 'sweep';

/** Runs camera and decoder into `video`; `onSeen` gets every decoded frame. */
export function useCamera(
  video: RefObject<HTMLVideoElement | null>,
  active: boolean,
  onSeen: (seen: Seen) => void,
  how: How = 'aim',
): CameraControl {
  const [state, setState] = useState<CameraState>({ kind: 'off' });
  const [torch, setTorch] = useState(false);
  const [round, setRound] = useState(0);
  const inSight = useInSight();
  const camera = useRef<Camera>(undefined);
  // The loop outlives renders and must call the newest function.
  const newest = useRef(onSeen);
  newest.current = onSeen;

  useEffect(() => {
    const element = video.current;
    if (!active || !inSight || !element) {
      setState({ kind: 'off' });
      return undefined;
    }
    const run = new AbortController();
    const fail = (fault: CameraFault | 'decoder'): void => {
      if (!run.signal.aborted) setState({ kind: 'fault', fault });
    };
    setState({ kind: 'starting' });
    start(element, run.signal, how, (seen) => newest.current(seen), () => fail('lost')).then(
      (opened) => {
        if (!opened) return;
        camera.current = opened;
        setState({ kind: 'live', hasTorch: opened.hasTorch });
      },
      (error: unknown) => {
        if (error instanceof DecoderError) fail('decoder');
        else fail(error instanceof CameraError ? error.fault : 'failed');
      },
    );
    return () => {
      run.abort();
      camera.current = undefined;
      setTorch(false);
    };
  }, [active, inSight, round, video]);

  const tryAgain = useCallback(() => setRound((n) => n + 1), []);
  const faulty = state.kind === 'fault';
  // Plugged in or allowed meanwhile: start without being asked.
  useEffect(() => (active && faulty ? onCameraChange(tryAgain) : undefined), [active, faulty, tryAgain]);

  const toggleTorch = (): void => {
    const on = !torch;
    camera.current?.setTorch(on).then(
      () => setTorch(on),
      // Promised and not there: take the button away.
      () => setState((now) => (now.kind === 'live' ? { ...now, hasTorch: false } : now)),
    );
  };
  return { state, torch, toggleTorch, tryAgain, track: () => camera.current?.track };
}

/** Opens camera and decoder and runs the loop until `signal` aborts; undefined when it did meanwhile. */
async function start(
  video: HTMLVideoElement,
  signal: AbortSignal,
  how: How,
  onSeen: (seen: Seen) => void,
  onLost: () => void,
): Promise<Camera | undefined> {
  // Both at once: the decoder compiles while the camera warms up.
  const decoder = sharedDecoder();
  const camera = await openCamera(onLost, how === 'sweep');
  const end = (): void => {
    camera.stop();
    if (video.srcObject === camera.stream) video.srcObject = null;
  };
  if (signal.aborted) {
    end();
    return undefined;
  }
  signal.addEventListener('abort', end);
  video.srcObject = camera.stream;
  try {
    await video.play();
    await decoder.ready;
  } catch (error) {
    // Stopped while it started: not a fault.
    if (signal.aborted) return undefined;
    end();
    throw error;
  }
  if (signal.aborted) return undefined;
  // One frame that fails is of no matter, the next comes in a moment.
  const stop = watch(video, how === 'sweep' ? { look: (v) => decoder.look(v, true) } : decoder, onSeen, (error) => console.warn('a frame was not decoded', error));
  signal.addEventListener('abort', stop);
  return camera;
}

function useInSight(): boolean {
  const [inSight, setInSight] = useState(!document.hidden);
  useEffect(() => {
    const look = (): void => setInSight(!document.hidden);
    document.addEventListener('visibilitychange', look);
    return () => document.removeEventListener('visibilitychange', look);
  }, []);
  return inSight;
}
