/** Where the day starts: scan, find, the acts of the round, what today has brought, what waits for an answer. */
import { ENDS } from '../ui/catalogue';
import { kindName, t } from '../i18n';
import { calendarDays, weight } from '../i18n/format';
import { app } from '../ui/app';
import { Icon } from '../ui/Icon';
import { useAnswer } from '../ui/load';
import { Mark } from '../ui/Mark';
import { to } from '../ui/route';
import { Heading } from './parts';
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { go } from '../ui/route';

interface Today { kind: string; acts: number; grams: number }

// Which records make a day's work; naming and setting up are no news.
const WORK = ['batch.mixed', 'bag.filled', 'load.ran', 'bag.inoculated', 'bag.moved', 'bag.contaminated', 'bag.opened',
  'bag.soaked', 'bag.harvested', 'bag.finished', 'crop.packed'];
const LOOK_BACK = 2_000;

async function today(): Promise<Today[]> {
  const now = Date.now();
  const sums = new Map<string, Today>();
  for (const { line, voided } of await app().records(LOOK_BACK)) {
    if (voided || !WORK.includes(line.k) || calendarDays(line.t, now) !== 0) continue;
    const sum = sums.get(line.k) ?? { kind: line.k, acts: 0, grams: 0 };
    sum.acts += line.s.length;
    const g = line.d?.['g'];
    if (typeof g === 'number') sum.grams += g;
    sums.set(line.k, sum);
  }
  return WORK.flatMap((k) => sums.get(k) ?? []);
}

/** Live bags by stage. */
function standing(): Map<string, number> {
  const stages = new Map<string, number>();
  for (const f of app().find({})) if (!ENDS.includes(f.stage)) stages.set(f.stage, (stages.get(f.stage) ?? 0) + f.n);
  return stages;
}

/** `news`: what the owner must read first, as soon as the screens that know it are here. */
export function Home({ news }: { news: ComponentChildren }) {
  const a = app();
  const day = useAnswer(today, []);
  const waiting = a.questions.value.length + a.held.value.length;
  const [text, setText] = useState('');
  const ready = a.indexReady.value;
  // After the first paint: the scan button must not wait for a count over the whole farm.
  const stages = useAnswer(() => Promise.resolve(ready ? standing() : null), [ready]);
  const fresh = stages?.size === 0;
  return (
    <main class="screen" id="main">
      <Heading text={t('nav.home')} unseen />
      <div class="sides">
        <div>
          <a class="btn btn-first" href={to('scan')}><Icon name="scan" size={34} />{t('home.scan')}</a>
          <a class="btn" href={to('rounds')}>{t('screen.rounds')}</a>
          <form class="input-unit" role="search" onSubmit={(e) => { e.preventDefault(); location.hash = `#/find?q=${encodeURIComponent(text)}`; }}>
            <input class="input" type="search" value={text} aria-label={t('find.label')} placeholder={t('find.label')} onInput={(e) => setText(e.currentTarget.value)} />
            <button class="btn btn-icon" aria-label={t('find.go')}><Icon name="find" /></button>
          </form>
          {news}
          {waiting > 0 && (
            <a class="note note-ask" href={to('answers')} style={{ textDecoration: 'none' }}>
              <Mark kind="ask" /><strong>{t('home.answers', { n: waiting })}</strong><span>{t('home.answers.todo')}</span>
            </a>
          )}
          {fresh && (
            <section class="card">
              <h2>{t('home.first')}</h2>
              <p>{t('home.first.words')}</p>
              <a class="btn" href={to('setup', 'places')}>{t('home.first.places')}</a>
              <a class="btn" href={to('setup', 'strains')}>{t('home.first.strains')}</a>
              <a class="btn" href={to('opening')}>{t('home.first.opening')}</a>
              <a class="btn" href={to('new-batch')}>{t('home.first.batch')}</a>
            </section>
          )}
          <nav class="choices choices-two" aria-label={t('home.acts')}>
            <button class="choice" onClick={() => go('harvest')}>{t('home.harvest')}<small>{t('home.harvest.about')}</small></button>
            <button class="choice" onClick={() => go('move')}>{t('home.move')}<small>{t('home.move.about')}</small></button>
            <button class="choice" onClick={() => go('inoculate')}>{t('home.inoculate')}<small>{t('home.inoculate.about')}</small></button>
            <button class="choice" onClick={() => go('new-batch')}>{t('home.batch')}<small>{t('home.batch.about')}</small></button>
          </nav>
        </div>
        <div>
          {stages && stages.size > 0 && (
            <section class="stack-close">
              <h2>{t('home.standing')}</h2>
              <div class="figures">
                {[...stages].map(([stage, n]) => (
                  <a key={stage} class="figure" href={`#/find?stage=${stage}`}><b>{n}</b><span>{t(`stage.${stage}`)}</span></a>
                ))}
              </div>
            </section>
          )}
          <section class="stack-close">
            <h2>{t('home.today')}</h2>
            {day && day.length === 0 && <p class="quiet">{t('home.today.none')}</p>}
            {day && day.length > 0 && (
              <ul class="list">{day.map((s) => (
                <li key={s.kind}><div class="item-still"><span>{kindName(s.kind)}</span><span class="qty">{s.grams > 0 ? weight(s.grams) : s.acts}</span></div></li>
              ))}</ul>
            )}
          </section>
        </div>
      </div>
    </main>
  );
}
