/** Zoom and focus of the camera in use, where it has them: labels stand on high shelves, phones focus far away. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';

interface Range { min: number; max: number; step?: number }
interface Abilities { zoom?: Range; focusDistance?: Range; focusMode?: string[] }

/** Zoom steps offered: shares of what the lens can, never beyond 4 times, where a label no longer fits. */
export function zoomSteps(range: Range | undefined): number[] {
  if (!range || !(range.max > range.min)) return [];
  return [1, 2, 4].map((x) => range.min * x).filter((x, i) => i === 0 || x <= range.max);
}

export function Lens({ track }: { track: MediaStreamTrack | undefined }) {
  const [zoom, setZoom] = useState(0);
  const [near, setNear] = useState(false);
  const can = (track?.getCapabilities?.() ?? {}) as Abilities;
  const steps = zoomSteps(can.zoom);
  const focus = can.focusMode?.includes('manual') && can.focusDistance ? can.focusDistance : undefined;
  if (!track || (steps.length < 2 && !focus)) return null;
  const apply = (wish: object, done: () => void): void => {
    void track.applyConstraints({ advanced: [wish as MediaTrackConstraintSet] }).then(done, () => undefined);
  };
  const next = (zoom + 1) % Math.max(1, steps.length);
  return (
    <div class="row">
      {steps.length > 1 && (
        <button type="button" class="btn" onClick={() => apply({ zoom: steps[next] }, () => setZoom(next))}>{t('lens.zoom', { x: 2 ** next })}</button>
      )}
      {focus && (
        <button type="button" class="btn" aria-pressed={near}
          onClick={() => apply(near ? { focusMode: 'continuous' } : { focusMode: 'manual', focusDistance: focus.min }, () => setNear(!near))}>
          {t(near ? 'lens.auto' : 'lens.near')}
        </button>
      )}
    </div>
  );
}
