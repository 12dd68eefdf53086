/** What the farm mixes with: what goes into the mixer in kilograms and litres, the usual bag, losses, and when to warn. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { ofFill, ofMixer } from '../trade/cautions';
import { TOLERANCE } from '../trade/weigh';
import { app } from '../ui/app';
import { save, saving } from '../ui/act';
import { back } from '../ui/route';
import { Amount, Findings, Money, Percent, UnitSwitch } from './mixwords';
import { Head } from './parts';

export function Mixer() {
  const settings = app().ref.value.settings;
  const int = (name: string): number | null => (typeof settings[name] === 'number' ? Number(settings[name]) : null);
  const [n, setN] = useState<Record<string, number | null>>({
    mixer_g: int('mixer_g'), mixer_ml: int('mixer_ml'), fill_g: int('fill_g'), loss_g: int('loss_g'), bag_minor: int('bag_minor'), tolerance: int('tolerance') ?? TOLERANCE,
  });
  const [rotating, setRotating] = useState(settings['rotating'] === true);
  const put = (f: string) => (x: number | null): void => setN((old) => ({ ...old, [f]: x }));
  const keep = async (): Promise<void> => {
    const figures = Object.fromEntries(Object.entries(n).filter(([, x]) => x !== null && x >= 0));
    if (await save([{ ty: 'farm.equipped', sub: [], d: { ...figures, rotating } }], t('mixer.saved'))) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={t('mixer.title')} sub={t('mixer.about')} />
      <UnitSwitch />
      <p class="small quiet">{t('mixer.none')}</p>
      <Amount label={t('field.farm_equipped.mixer_g')} quantity="mass" value={n['mixer_g'] ?? null} onChange={put('mixer_g')} />
      <Amount label={t('field.farm_equipped.mixer_ml')} quantity="volume" value={n['mixer_ml'] ?? null} onChange={put('mixer_ml')} />
      <button type="button" class="choice" aria-pressed={rotating} onClick={() => setRotating(!rotating)}>{t('field.farm_equipped.rotating')}</button>
      <Findings of={ofMixer(rotating)} />
      <Amount label={t('field.farm_equipped.fill_g')} quantity="mass" value={n['fill_g'] ?? null} onChange={put('fill_g')} />
      {n['fill_g'] !== null && <Findings of={ofFill(n['fill_g'] ?? 0)} />}
      <Amount label={t('field.farm_equipped.loss_g')} quantity="mass" unit="g" value={n['loss_g'] ?? null} onChange={put('loss_g')} />
      <Money label={t('field.farm_equipped.bag_minor')} value={n['bag_minor'] ?? null} onChange={put('bag_minor')} />
      <Percent label={t('field.farm_equipped.tolerance')} value={n['tolerance'] ?? null} onChange={put('tolerance')} />
      <button type="button" class="btn btn-first" disabled={saving.value} onClick={() => void keep()}>{t('setup.save')}</button>
    </main>
  );
}
