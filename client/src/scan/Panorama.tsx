/** The camera over many labels: every frame's symbols go out, and each is drawn over the picture as it is told. */
import type { ComponentChildren, JSX } from 'preact';
import { useRef, useState } from 'preact/hooks';
import { t } from '../i18n';
import type { Seen, SeenSymbol } from './decoder';
import { useCamera } from './use-camera';
import './panorama.css';

/** How a label is drawn: a full line with a tick, dashes, a cross; the shape says it without the colour. */
export type Drawn = 'found' | 'stray' | 'wrong' | 'plain';

interface Props {
  /** Gets every frame, also those with nothing in them. */
  onSeen: (seen: Seen) => void;
  drawn: (symbol: SeenSymbol) => Drawn;
  extra?: (track: MediaStreamTrack | undefined) => ComponentChildren;
  active?: boolean;
}

export function Panorama({ onSeen, drawn, extra, active = true }: Props): JSX.Element {
  const video = useRef<HTMLVideoElement>(null);
  const [last, setLast] = useState<Seen | null>(null);
  const { state, torch, toggleTorch, tryAgain, track } = useCamera(video, active, (seen) => { setLast(seen); onSeen(seen); }, 'sweep');
  return (
    <>
      <div class="finder pan-view" data-state={state.kind}>
        <video ref={video} muted playsInline aria-label={t('scan.camera.view')} />
        {last && state.kind === 'live' && (
          <svg class="pan-marks" viewBox={`0 0 ${last.width} ${last.height}`} preserveAspectRatio="xMidYMid slice" aria-hidden="true">
            {last.symbols.map((symbol, i) => <MarkOf key={`${symbol.text}${i}`} symbol={symbol} drawn={drawn(symbol)} />)}
          </svg>
        )}
        {state.kind === 'live' && state.hasTorch && (
          <button type="button" class="btn scan-torch" aria-pressed={torch} onClick={toggleTorch}>{t(torch ? 'scan.torch.off' : 'scan.torch.on')}</button>
        )}
        {state.kind !== 'live' && (
          <div class="scan-said" role="status">
            <p>{t(state.kind === 'fault' ? `scan.camera.${state.fault}` : `scan.camera.${state.kind}`)}</p>
            {state.kind === 'fault' && <button type="button" class="btn" onClick={tryAgain}>{t('scan.camera.again')}</button>}
          </div>
        )}
      </div>
      {extra?.(track())}
    </>
  );
}

function MarkOf({ symbol: { corners, centre }, drawn }: { symbol: SeenSymbol; drawn: Drawn }) {
  const size = Math.hypot(corners[0].x - corners[2].x, corners[0].y - corners[2].y) / 2;
  const at = (x: number, y: number): string => `${centre.x + x * size},${centre.y + y * size}`;
  const sign = { found: `M${at(-0.4, 0)}L${at(-0.1, 0.3)}L${at(0.45, -0.35)}`, wrong: `M${at(-0.35, -0.35)}L${at(0.35, 0.35)}M${at(0.35, -0.35)}L${at(-0.35, 0.35)}`, stray: `M${at(0, -0.4)}L${at(0, 0.12)}M${at(0, 0.36)}L${at(0, 0.4)}`, plain: '' }[drawn];
  return (
    <g class={`pan-mark pan-${drawn}`} stroke-width={Math.max(4, size / 9)}>
      <polygon points={corners.map(({ x, y }) => `${x},${y}`).join(' ')} />
      {sign && <path d={sign} />}
    </g>
  );
}
