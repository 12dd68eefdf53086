/** First run: this device belongs to no farm yet. One code from the farm's computer, a name, done. */
import { useEffect, useState } from 'preact/hooks';
import { normalise } from '../ids';
import { t } from '../i18n';
import { units, type Units } from '../i18n/format';
import { app } from '../ui/app';
import { ChoiceGrid } from '../ui/Choice';
import { BagSign } from '../ui/BagSign';
import { ErrorNote } from '../ui/Notes';
import { textWrong } from '../ui/validate';
import { fileWords } from './filewords';

const CODE_SYMBOLS = 8;
const NAME_MOST = 60;

function deviceName(): string {
  const ua = navigator.userAgent;
  if (/iPhone/.test(ua)) return t('pair.name.iphone');
  if (/iPad/.test(ua)) return t('pair.name.tablet');
  if (/Android/.test(ua)) return /Mobile/.test(ua) ? t('pair.name.phone') : t('pair.name.tablet');
  return t('pair.name.computer');
}

export function Pair({ code: given }: { code: string | null }) {
  const [code, setCode] = useState(given ?? '');
  const [name, setName] = useState(deviceName);
  const [busy, setBusy] = useState(false);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const pair = async (): Promise<void> => {
    const plain = normalise(code);
    if (plain.length !== CODE_SYMBOLS) {
      setWrong({ what: t('pair.code.wrong', { n: plain.length }), todo: t('pair.code.wrong.todo') });
      return;
    }
    const bad = textWrong(name, NAME_MOST, t('pair.device'));
    if (bad || !name.trim()) {
      setWrong({ what: bad ?? t('pair.name.missing'), todo: t('pair.name.missing.todo') });
      return;
    }
    setBusy(true);
    setWrong(null);
    try {
      await app().pair(plain, name.trim());
    } catch (error) {
      setWrong(fileWords(error));
    } finally {
      setBusy(false);
    }
  };
  useEffect(() => { if (given) void pair(); }, []);
  return (
    <main class="screen" id="main" style={{ maxWidth: '32rem', marginInline: 'auto' }}>
      <div style={{ display: 'grid', justifyItems: 'center', gap: '12px', paddingTop: '16px' }}>
        <BagSign look={{ run: 0.55, brown: false, flushes: 2, bad: false }} size={132} />
        <h1>{t('app.name')}</h1>
        <p class="quiet" style={{ textAlign: 'center' }}>{t('pair.words')}</p>
      </div>
      <form class="stack" noValidate onSubmit={(e) => { e.preventDefault(); void pair(); }}>
        <label class="field"><span class="field-label">{t('pair.code')}</span><span class="hint">{t('pair.code.hint')}</span>
          <input class="input code" style={{ fontSize: '2rem', textAlign: 'center' }} value={code} autoComplete="off" autoCapitalize="characters" spellcheck={false} maxLength={24} onInput={(e) => { setCode(e.currentTarget.value); setWrong(null); }} /></label>
        <label class="field"><span class="field-label">{t('pair.device')}</span>
          <input class="input" dir="auto" value={name} onInput={(e) => setName(e.currentTarget.value)} /></label>
        <ChoiceGrid label={t('settings.units')} value={units.value} onPick={(v) => { units.value = v as Units; }}
          options={(['metric', 'us'] as const).map((v) => ({ value: v, name: t(`settings.units.${v}`) }))} />
        {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
        <button type="submit" class="btn btn-first" disabled={busy}>{busy ? t('pair.busy') : t('pair.do')}</button>
      </form>
      {!window.isSecureContext && <ErrorNote what={t('pair.insecure')} todo={t('pair.insecure.todo')} />}
    </main>
  );
}
