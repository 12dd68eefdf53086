/** How the farm's computer does, for the owner and managers: what there is to do first, then the figures. */
import { useEffect, useState } from 'preact/hooks';
import type { Health } from '../app-types';
import { t } from '../i18n';
import '../i18n/rest';
import { when } from '../i18n/format';
import { app } from '../ui/app';
import { errorWords } from '../ui/act';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';

const GIB = 2 ** 30;
const MINUTE = 60_000;

export function HealthCard() {
  const [found, setFound] = useState<Health | null>(null);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const linked = app().link.value.state === 'ok';
  const look = (): void => {
    setWrong(null);
    app().health().then(setFound, (e: unknown) => setWrong(errorWords(e)));
  };
  useEffect(() => { if (linked) look(); }, [linked]);
  return (
    <section class="card" data-health={found ? (found.ok ? 'ok' : 'ask') : ''}>
      <h2>{t('health.title')}</h2>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!found && !wrong && <p class="quiet">{t(linked ? 'health.wait' : 'health.unlinked')}</p>}
      {found?.ok && <p><Mark kind="ok" size={22} /> {t('health.ok')}</p>}
      {found?.sentences.map((said) => <p key={said}><Mark kind="ask" size={22} /> {said}</p>)}
      {found && <Figures found={found} />}
      {found && <button type="button" class="btn" onClick={look}>{t('health.again')}</button>}
    </section>
  );
}

function Figures({ found }: { found: Health }) {
  const cert = found.certificate;
  const { verified, head } = found.chain;
  return (
    <details>
      <summary>{t('health.figures')}</summary>
      <dl class="facts">
        {cert && <><dt>{t('health.address')}</dt><dd dir="auto">{cert.origin}</dd></>}
        {cert?.days != null && <><dt>{t('health.certificate')}</dt><dd>{t('health.days', { n: cert.days })}</dd></>}
        {cert?.authority && <><dt>{t('health.authority')}</dt><dd class="code">{cert.authority.code}</dd></>}
        <dt>{t('health.numbers')}</dt><dd>{found.addresses.join(', ') || t('health.none')}</dd>
        <dt>{t('health.records')}</dt><dd>{t('health.safe', { head: found.head, safe: found.durable })}</dd>
        <dt>{t('health.chain')}</dt><dd>{found.chain.broken ? t('health.broken', { at: found.chain.broken }) : t('health.verified', { n: verified, head })}</dd>
        <dt>{t('health.disk')}</dt><dd>{t('health.free', { free: round(found.disk.free), total: round(found.disk.total) })}</dd>
        <dt>{t('health.server')}</dt><dd>{found.version}</dd>
      </dl>
      <h3 style={{ margin: 'var(--s4) 0 var(--s1)' }}>{t('health.backups')}</h3>
      {found.backups.length === 0 && <p class="quiet">{t('health.no_backups')}</p>}
      <ul>
        {found.backups.slice(0, 5).map((b) => (
          <li key={b.name}>{when(b.at)}: {t(b.fault ? 'health.backup.bad' : b.counts ? 'health.backup.counts' : 'health.backup.here', { n: b.pos })}</li>
        ))}
      </ul>
      <h3 style={{ margin: 'var(--s4) 0 var(--s1)' }}>{t('health.phones')}</h3>
      <ul>
        {found.phones.map((p) => (
          <li key={p.dev}><strong dir="auto">{p.name || p.dev}</strong>: {t('health.heard', { when: when(p.seen), n: p.waiting })}
            {p.app && ` · ${t('health.app', { version: p.app })}`}
            {p.clock_ms !== null && Math.abs(p.clock_ms) > MINUTE && ` · ${t(p.clock_ms > 0 ? 'health.fast' : 'health.slow', { n: Math.round(Math.abs(p.clock_ms) / MINUTE) })}`}
            {p.state !== 'paired' && ` · ${t(`health.state.${p.state}`)}`}</li>
        ))}
      </ul>
    </details>
  );
}

const round = (bytes: number): number => Math.round((bytes / GIB) * 10) / 10;
