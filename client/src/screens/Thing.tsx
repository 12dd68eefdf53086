/** A spawn lot, a load, a crate or a person: what is known of it, and the bags it leads to. */
import { choiceName, fieldId, has, t } from '../i18n';
import { dayAge, spacedCode } from '../i18n/format';
import type { Line } from '../app-types';
import { app } from '../ui/app';
import { dataWords, History } from '../ui/History';
import { useAnswer } from '../ui/load';
import { anyName, personName, spawnName } from '../ui/names';
import { to } from '../ui/route';
import { Head } from './parts';

const TABLES = { S: 'spawn', H: 'loads', W: 'people' } as const;
const KIND_OF = { S: 'spawn.received', H: 'load.ran', W: 'person.named' } as const;

export function Thing({ code }: { code: string }) {
  const letter = code[0] as keyof typeof TABLES;
  const row = TABLES[letter] ? app().ref.value[TABLES[letter]][code] : undefined;
  const history = useAnswer(async () => (await app().records(5_000)).filter((r) => r.line.s.includes(code) || Object.values(r.line.d ?? {}).includes(code)), [code]);
  const holds = Array.isArray(row?.['holds']) ? (row['holds'] as string[]) : [];
  const name = letter === 'S' ? spawnName(code) : letter === 'W' ? personName(code) : `${t(`type.${letter}`)} ${spacedCode(code)}`;
  const ty = KIND_OF[letter];
  return (
    <main class="screen" id="main">
      <Head title={name} sub={`${t(`type.${code[0] ?? 'K'}`)} · ${spacedCode(code)}${typeof row?.['made'] === 'number' ? ` · ${dayAge(row['made'])}` : ''}`} />
      <div class="sides">
        <div>
          {row && ty && (
            <section class="card"><p dir="auto">{dataWords({ id: '', k: ty, t: 0, s: [], d: row } as Line)}</p>
              {typeof row['test'] === 'string' && has(fieldId('spawn.made', 'test')) && <p>{t(fieldId('spawn.made', 'test'))}: <b>{choiceName('test', row['test'])}</b></p>}
              {typeof row['parent'] === 'string' && <p>{t(fieldId('spawn.made', 'parent'))}: <a href={to('thing', row['parent'])}>{anyName(row['parent'])}</a></p>}
            </section>
          )}
          {letter === 'S' && <a class="btn btn-first" href={to('inoculate', code)}>{t('thing.inoculate')}</a>}
          {holds.length > 0 && <ul class="list">{holds.map((c) => <li key={c}><a href={to('c', c)}><b>{app().batchName(c) ?? anyName(c)}</b><span /></a></li>)}</ul>}
          {(letter === 'S' || letter === 'W') && <a class="btn" href={to('setup', letter === 'S' ? 'spawn' : 'people', code)}>{t('thing.edit')}</a>}
          <a class="btn" href={to('print', code)}>{t('place.print')}</a>
          <a class="btn" href={to('act', 'note.written', code)}>{t('act.note_written')}</a>
        </div>
        <section class="stack-close"><h2>{t('bag.history')}</h2>{history && <History lines={history.slice(0, 200)} />}</section>
      </div>
    </main>
  );
}
