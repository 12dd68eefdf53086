/** What the farm sterilises or steams with, how long each takes, and how high the farm lies. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { units } from '../i18n/format';
import { read } from '../trade/units';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { Care } from '../ui/Care';
import { kind } from '../ui/catalogue';
import { Form } from '../ui/Form';
import { Icon } from '../ui/Icon';
import { anyName } from '../ui/names';
import { back, to } from '../ui/route';
import { toTyped } from '../ui/validate';
import { attempt, unitFor, UnitSwitch } from './mixwords';
import { OwnRecordCard } from './loadparts';
import { programme } from './programme';
import { Head } from './parts';
import { altitude, Pressure } from './Pressure';

export function Vessels({ code }: { code?: string | undefined }) {
  return code ? <Vessel key={code + units.value} code={code} /> : <All />;
}

function All() {
  const { vessels } = app().ref.value;
  const codes = Object.keys(vessels).sort((a, b) => anyName(a).localeCompare(anyName(b), undefined, { numeric: true }));
  return (
    <main class="screen" id="main">
      <Head title={t('vessels.title')} sub={t('vessels.about')} />
      <UnitSwitch />
      <div class="sides">
        <div>
          <a class="btn btn-first" href={to('vessels', 'new')}><Icon name="plus" />{t('vessels.add')}</a>
          {codes.length === 0 && <p class="quiet">{t('vessels.none')}</p>}
          <ul class="list">{codes.map((code) => (
            <li key={code}><a href={to('vessels', code)}><b dir="auto">{anyName(code)}</b><span /><span class="sub">{programme(vessels[code] ?? {}).join(' · ')}</span></a></li>
          ))}</ul>
          <Care of="vessel" />
        </div>
        <div>
          <Altitude key={units.value} />
          <Pressure key={`p${units.value}`} />
        </div>
      </div>
    </main>
  );
}

function Altitude() {
  const m = altitude();
  const unit = unitFor('length');
  const [text, setText] = useState(m === null ? '' : String(unit === 'ft' ? Math.round(m / 0.3048) : m));
  const typed = text.trim() ? attempt(() => read(text, 'length', unit)) : null;
  const keep = (): void => { if (typed && 'ok' in typed) void save([{ ty: 'farm.equipped', sub: [], d: { altitude_m: Math.round(typed.ok / 1_000) } }], t('vessels.altitude.saved')); };
  return (
    <form class="card stack" onSubmit={(e) => { e.preventDefault(); keep(); }}>
      <label class="field"><span class="field-label">{t('field.farm_equipped.altitude_m')}</span>
        <span class="hint">{t('vessels.altitude.hint')}</span>
        <span class="input-unit"><input class="input" inputMode="text" autoComplete="off" dir="ltr" value={text} onInput={(e) => setText(e.currentTarget.value)} /><span>{unit}</span></span>
        {typed && 'wrong' in typed && <span class="wrong" role="alert">{typed.wrong}</span>}
      </label>
      <button class="btn" disabled={!typed || 'wrong' in typed}>{t('vessels.altitude.save')}</button>
    </form>
  );
}

// A new vessel, or other figures for an old one: loads that ran keep the figures they ran with.
function Vessel({ code }: { code: string }) {
  const row = app().ref.value.vessels[code];
  const k = kind('vessel.named');
  const start: Record<string, unknown> = {};
  for (const f of k.fields) {
    const v = row?.[f.name];
    if (v !== undefined) start[f.name] = f.type === 'int' && typeof v === 'number' ? toTyped(f, v) : v;
  }
  const submit = async (d: Record<string, unknown>): Promise<void> => {
    if (await save([{ ty: 'vessel.named', sub: [code === 'new' ? 'vessel' : code], d }], t('setup.saved', { name: String(d['name'] ?? '') }))) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={row ? anyName(code) : t('vessels.add')} />
      <UnitSwitch />
      <div class="sides">
        <div><Form kind={k} start={start} submit={t('setup.save')} onSubmit={({ d }) => void submit(d)} /></div>
        <div>
          {row && <OwnRecordCard row={{ ...row, pot: code }} />}
          <Pressure temp={typeof row?.['temp'] === 'number' ? row['temp'] : null} />
          <Care of="vessel" />
        </div>
      </div>
    </main>
  );
}
