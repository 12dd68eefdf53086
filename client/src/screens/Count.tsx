/** Work told afterwards as a count: "40 bags from this spawn lot, trolley 3", one act of one touch. */
import { useState } from 'preact/hooks';
import type { Draft, Happened } from '../app-types';
import { t } from '../i18n';
import { app } from '../ui/app';
import { newRound, save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { HappenedEarlier } from '../ui/Happened';
import { HowMany } from '../ui/HowMany';
import { ErrorNote } from '../ui/Notes';
import { PlacePicker, SpawnPicker } from '../ui/Pick';
import { placeName, strainName } from '../ui/names';
import { back } from '../ui/route';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { Head } from './parts';

interface Group { code: string; batch: string; n: number; about: string }

/** Parts without a label of their own: only of these can a count be taken. */
function groups(): Group[] {
  return app().find({}).flatMap((row) => row.codes.filter((c) => !c.startsWith('B')).map((code) => {
    const n = app().partLabel(code)?.n ?? row.n;
    return { code, batch: row.batch, n, about: `${row.name} · ${t(`stage.${row.stage}`)} · ${placeName(row.place)}${row.strain ? ` · ${strainName(row.strain)}` : ''}` };
  }));
}

export function Count() {
  void app().changed.value;
  const all = groups();
  const [code, setCode] = useState<string | null>(null);
  const [some, setSome] = useState<number | null>(null);
  const [lot, setLot] = useState<string | null>(null);
  const [place, setPlace] = useState<string | null>(null);
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const [tried, setTried] = useState(false);
  const group = all.find((g) => g.code === code);
  useScan((scanned) => {
    if (scanned.startsWith('S')) setLot(scanned);
    else if (scanned.startsWith('P')) setPlace(scanned);
    else {
      const found = all.find((g) => g.code === scanned || g.batch === scanned);
      if (found) setCode(found.code);
      else say('ask', t('count.no_group'));
    }
  });
  const nothing = !lot && !place;
  const write = async (): Promise<void> => {
    setTried(true);
    if (!group || nothing || Number.isNaN(some) || at === 'future') return;
    const n = some ?? group.n;
    const rnd = newRound();
    const on = at ? { on: at } : {};
    const split: Draft[] = n < group.n ? [{ ty: 'group.split', sub: [group.code], d: { n }, rnd }] : [];
    const sub = [split.length ? 'g-@0' : group.code];
    const acts: Draft[] = [
      ...(lot ? [{ ty: 'bag.inoculated', sub, d: { spawn: lot }, rnd, ...on }] : []),
      ...(place ? [{ ty: 'bag.moved', sub, d: { to: place }, rnd, ...on }] : []),
    ];
    if (await save([...split, ...acts], t('count.saved', { n, about: group.about }))) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={t('floor.count')} sub={t('floor.count.about')} />
      {all.length === 0 && <ErrorNote what={t('count.none')} todo={t('count.none.todo')} />}
      <div class="sides">
        <div class="stack">
          <ChoiceGrid single label={t('count.which')} value={code} onPick={(c) => { setCode(c); setSome(null); }} options={all.slice(0, 30).map((g) => ({ value: g.code, name: t('name.bags', { n: g.n }), about: g.about }))} />
          {group && <HowMany key={group.code} n={group.n} value={some} onChange={setSome} />}
        </div>
        <div class="stack">
          <SpawnPicker label={t('count.lot')} value={lot} onPick={(c) => setLot(c || null)} none />
          <PlacePicker label={t('count.place')} value={place} onPick={(c) => setPlace(c || null)} none />
          <HappenedEarlier onChange={setAt} />
          {tried && (!group || nothing) && <p class="wrong" role="alert">{t(!group ? 'count.wrong.group' : 'count.wrong.nothing')}</p>}
          <button type="button" class="btn btn-first" onClick={() => void write()}>{t('count.save')}</button>
        </div>
      </div>
    </main>
  );
}
