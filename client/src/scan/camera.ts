/** The camera: asked for, started, stopped, its torch, and what went wrong, told as one word. */

/**
 * denied: the person or a setting said no; none: no camera there; in_use: another program has it;
 * insecure: the page came without https; lost: unplugged or taken away; failed: anything else.
 */
export type CameraFault = 'denied' | 'none' | 'in_use' | 'insecure' | 'lost' | 'failed';

/** Why there is no picture; `fault` selects the sentence `scan.camera.<fault>`. */
export class CameraError extends Error {
  override name = 'CameraError';

  constructor(
    readonly fault: CameraFault,
    options?: ErrorOptions,
  ) {
    super(`camera: ${fault}`, options);
  }
}

export interface Camera {
  stream: MediaStream;
  track: MediaStreamTrack;
  /** The device's own name; empty where the browser hides it. */
  label: string;
  hasTorch: boolean;
  /** Rejects where the lamp will not obey; then hide its button. */
  setTorch(on: boolean): Promise<void>;
  stop(): void;
}

/** Wishes, never demands: `exact` makes phones without such a camera refuse altogether. */
const wishes = (wide: boolean): MediaStreamConstraints => ({
  audio: false,
  video: { facingMode: { ideal: 'environment' }, width: { ideal: wide ? 1920 : 1280 }, height: { ideal: wide ? 1080 : 720 } },
});

/** Android frees the camera of the last tab a moment after it says so: worth one more try. */
const RETRY_MS = 400;

/**
 * Opens the back camera. Throws CameraError. `wide`: the most pixels, for many
 * labels at once. `onLost` is called when the picture ends without `stop`.
 */
export async function openCamera(onLost: () => void, wide = false): Promise<Camera> {
  // Without https (or localhost) the API is not there at all.
  if (!navigator.mediaDevices?.getUserMedia) throw new CameraError(isSecureContext ? 'failed' : 'insecure');
  const stream = await ask(wide);
  const [track] = stream.getVideoTracks();
  if (!track) throw new CameraError('none');
  track.addEventListener('ended', onLost);
  void keepFocusing(track);
  return {
    stream,
    track,
    label: track.label,
    hasTorch: abilities(track).torch === true,
    setTorch: (on) => track.applyConstraints({ advanced: [{ torch: on } as MediaTrackConstraintSet] }),
    stop() {
      track.removeEventListener('ended', onLost);
      for (const each of stream.getTracks()) each.stop();
    },
  };
}

async function ask(wide: boolean): Promise<MediaStream> {
  try {
    return await navigator.mediaDevices.getUserMedia(wishes(wide));
  } catch (error) {
    if (faultOf(error) !== 'in_use') throw new CameraError(faultOf(error), { cause: error });
  }
  await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
  try {
    return await navigator.mediaDevices.getUserMedia(wishes(wide));
  } catch (error) {
    throw new CameraError(faultOf(error), { cause: error });
  }
}

/** The word for an error of getUserMedia. Source of names: W3C Media Capture and Streams, 10.2. */
export function faultOf(error: unknown): CameraFault {
  switch ((error as { name?: unknown } | null)?.name) {
    case 'NotAllowedError':
    case 'SecurityError':
      return 'denied';
    case 'NotFoundError':
    case 'OverconstrainedError':
      return 'none';
    case 'NotReadableError':
    case 'AbortError':
      return 'in_use';
    default:
      return 'failed';
  }
}

/** The abilities of phone cameras that the DOM's types do not name. */
interface Abilities extends MediaTrackCapabilities {
  torch?: boolean;
  focusMode?: string[];
}

function abilities(track: MediaStreamTrack): Abilities {
  // Absent in older Firefox.
  return track.getCapabilities?.() ?? {};
}

// Some phones open the camera focused far away; labels are read at 10 to 50 cm.
async function keepFocusing(track: MediaStreamTrack): Promise<void> {
  if (!abilities(track).focusMode?.includes('continuous')) return;
  const wish = { focusMode: 'continuous' } as MediaTrackConstraintSet;
  await track.applyConstraints({ advanced: [wish] }).catch(() => undefined);
}

/** Calls back when a camera that was missing or refused may be there now. Returns the stop function. */
export function onCameraChange(changed: () => void): () => void {
  const devices = navigator.mediaDevices;
  devices?.addEventListener?.('devicechange', changed);
  let permission: PermissionStatus | undefined;
  let stopped = false;
  // Firefox and Safari may not know the name 'camera': the button to try again remains.
  navigator.permissions
    ?.query({ name: 'camera' as PermissionName })
    .then((status) => {
      permission = status;
      if (!stopped) status.addEventListener('change', changed);
    })
    .catch(() => undefined);
  return () => {
    stopped = true;
    devices?.removeEventListener?.('devicechange', changed);
    permission?.removeEventListener('change', changed);
  };
}
