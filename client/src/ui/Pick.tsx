/** Choosing one of the farm's own things: a place, strain, spawn lot, recipe; recent first, or by scan. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { app } from './app';
import { ChoiceGrid, type Option } from './Choice';
import { CodeEntry } from './CodeEntry';
import { anyName, placePath, placeName, spawnName, strainName } from './names';
import { recentFirst, remember } from './recent';
import { useScan } from './scanning';

const FEW = 6;

interface Props {
  label: string;
  value: string | null;
  onPick: (code: string) => void;
  /** Offer "none" where the field may stay empty. */
  none?: boolean;
  quiet?: boolean;
  /** Codes that cannot be chosen (a trolley does not stand on itself). */
  except?: string[];
}

function Picker({ label, value, onPick, none, quiet, options, what, letter }: Props & { options: Option[]; what: string; letter?: string }) {
  const [all, setAll] = useState(false);
  const [text, setText] = useState('');
  useScan(letter ? onPick : null, letter);
  const wanted = text.trim().toLowerCase();
  const found = wanted ? options.filter((o) => `${o.name} ${o.about ?? ''}`.toLowerCase().includes(wanted)) : options;
  const chosen = found.findIndex((o) => o.value === value);
  const shown = all || wanted ? found : found.filter((_, i) => i < FEW || i === chosen);
  return (
    <div class="stack">
      {options.length === 0 && <p class="quiet">{t(`pick.none_yet.${what}`)}</p>}
      {all && options.length > 12 && (
        <input class="input" type="search" value={text} placeholder={t('pick.search')} aria-label={t('pick.search')} onInput={(e) => setText(e.currentTarget.value)} />
      )}
      <ChoiceGrid label={label} quiet={quiet ?? false} value={value} onPick={onPick}
        options={[...shown, ...(none ? [{ value: '', name: t('pick.none') }] : [])]} />
      {!all && found.length > shown.length && (
        <button type="button" class="btn" onClick={() => setAll(true)}>{t('pick.all', { n: options.length })}</button>
      )}
      {letter && <CodeEntry letter={letter} onCode={onPick} />}
    </div>
  );
}

export function PlacePicker(props: Props) {
  const places = app().ref.value.places;
  const codes = Object.keys(places).filter((c) => !props.except?.includes(c));
  const options = recentFirst('places', codes, placeName).map((code) => ({
    value: code, name: placeName(code), about: placePath(code).split(', ').slice(1).join(', ') || undefined,
  }));
  return <Picker {...props} options={options} what="places" letter="P" onPick={(c) => { if (c) remember('places', c); props.onPick(c); }} />;
}

export function SpawnPicker(props: Props) {
  const lots = app().ref.value.spawn;
  const options = recentFirst('spawn', Object.keys(lots), spawnName).map((code) => ({
    value: code, name: strainName(lots[code]?.['strain'] as string | undefined), about: anyName(code),
  }));
  return <Picker {...props} options={options} what="spawn" letter="S" onPick={(c) => { if (c) remember('spawn', c); props.onPick(c); }} />;
}

export function StrainPicker(props: Props) {
  const strains = app().ref.value.strains;
  const options = recentFirst('strains', Object.keys(strains), strainName).map((id) => ({
    value: id, name: strainName(id), about: (strains[id]?.['species'] as string | undefined) ?? undefined,
  }));
  return <Picker {...props} options={options} what="strains" onPick={(c) => { if (c) remember('strains', c); props.onPick(c); }} />;
}

export function RecipePicker(props: Props) {
  const recipes = app().ref.value.recipes;
  const options = Object.keys(recipes).map((id) => ({ value: id, name: String(recipes[id]?.['name'] ?? '') }));
  return <Picker {...props} options={options} what="recipes" />;
}
