/** Always in sight: the farm, how many records wait on this device and how old the oldest is, and the link. */
import { useEffect } from 'preact/hooks';
import { signal } from '@preact/signals';
import { t } from '../i18n';
import { age } from '../i18n/format';
import { app } from './app';
import { Icon } from './Icon';

/** Ticks every 20 s so that ages on screen keep up. */
export const clock = signal(Date.now());

export function useClock(): void {
  useEffect(() => {
    const timer = setInterval(() => { clock.value = Date.now(); }, 20_000);
    return () => clearInterval(timer);
  }, []);
}

const OLD_MS = 24 * 3_600_000;

export function StatusBar() {
  const a = app();
  const { count, oldest } = a.unsent.value;
  const link = a.link.value;
  const now = Math.max(clock.value, oldest ?? 0);
  const old = oldest !== null && now - oldest > OLD_MS;
  const linked = link.state === 'ok';
  // The short words stay part of the name: who speaks to the phone says what he sees (WCAG 2.5.3).
  const said = { n: count, age: oldest === null ? '' : age(oldest, now) };
  return (
    <header class="status" data-link={link.state}>
      <span class="status-name" dir="auto">{a.device.value?.name ?? t('app.name')}</span>
      <a class="status-bit status-unsent nowrap" href="#/settings" style={{ textDecoration: 'none' }}
        {...(count ? { 'data-some': '' } : {})} {...(old ? { 'data-old': '' } : {})}>
        {count ? <><Icon name="clock" size={18} />{t('status.unsent', said)}<span class="unseen">: {t('status.unsent_long', said)}</span></> : t('status.all_sent')}
      </a>
      <span class="status-bit" title={link.message ?? ''}>
        <Icon name={linked ? 'on' : 'off'} size={22} />
        <span class={linked ? 'unseen' : ''}>{t(`link.${link.state}`)}</span>
      </span>
    </header>
  );
}
