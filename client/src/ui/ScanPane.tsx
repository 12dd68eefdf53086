/** The camera in any screen, folded away until wanted; what it reads goes where a wedge scan would go. */
import { useState } from 'preact/hooks';
import { Viewfinder } from '../scan/Viewfinder';
import { t } from '../i18n';
import { app } from './app';
import { Icon } from './Icon';
import { known } from './known';
import { dispatch } from './scanning';

/** The viewfinder with what it needs to know of the farm. */
export function Camera() {
  return <Viewfinder farmTag={app().device.value?.tag ?? null} known={known} onReading={dispatch} />;
}

// From here up the screen has a rail at its side: a desk, where a hand scanner is the rule.
const DESK_PX = 960;

/** `open`: begin with the camera on, where the screen is a phone's. */
export function ScanPane({ open: first = false }: { open?: boolean }) {
  const [open, setOpen] = useState(first && innerWidth < DESK_PX);
  if (!open) return <button type="button" class="btn btn-wide" onClick={() => setOpen(true)}><Icon name="scan" />{t('scan.open')}</button>;
  return (
    <div class="stack-close">
      <Camera />
      <button type="button" class="btn" onClick={() => setOpen(false)}>{t('scan.close')}</button>
    </div>
  );
}
