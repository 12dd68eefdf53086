/** What stands on the tag of anything that has a code, in the words of the farm's labels. */
import type { Label } from '../app-types';
import { choiceName, t } from '../i18n';
import { day } from '../i18n/format';
import { app } from '../ui/app';
import { strainName } from '../ui/names';
import { labelsOfParts } from '../screens/labels';
import { onLabel } from './words';

const SORTS: Record<string, string> = { room: 'room', rack: 'rack', shelf: 'shelf', trolley: 'trolley', cold_store: 'cold' };

const text = (value: unknown): string => (typeof value === 'string' ? value : '');

/** The tag of a place, spawn lot, load, crate, person or batch; of a bag or group only its type. */
export const tagOf = (code: string): Label => onLabel(() => tag(code));

function tag(code: string): Label {
  const { places, spawn, loads, people } = app().ref.value;
  const word = t(`tag.${code[0] ?? 'B'}`);
  switch (code[0]) {
    case 'P': {
      const row = places[code] ?? {};
      const type = text(row['type']);
      const within = text(row['within']);
      return filled({ code, title: text(row.name), word: type ? choiceName('type', type) : word, sort: SORTS[type] ?? '', what: within ? text(places[within]?.name) : '' });
    }
    case 'S': {
      const row = spawn[code] ?? {};
      const strain = text(row['strain']);
      const made = (row['was'] as { ms?: number } | undefined)?.ms ?? row['made'];
      return filled({
        code, word, title: strain ? strainName(strain) : '', what: text(row['carrier']) && choiceName('carrier', text(row['carrier'])),
        number: typeof row['generation'] === 'number' ? `G${row['generation']}` : '', day: typeof made === 'number' ? day(made) : '',
      });
    }
    case 'H': {
      const row = loads[code] ?? {};
      return filled({ code, word, title: text(row['vessel']), day: typeof row['made'] === 'number' ? day(row['made']) : '' });
    }
    case 'W': return filled({ code, word, title: text(people[code]?.name) });
    case 'M': return filled({ code, word, title: app().batchName(code) ?? '' });
    default: return code.startsWith('B') ? { code } : filled({ code, word });
  }
}

/** Labels are at most so long for the farm's computer; longer names are cut there with the meaning kept, not here. */
const filled = (label: Label): Label =>
  Object.fromEntries(Object.entries(label).filter(([, value]) => value !== '')) as unknown as Label;

/** Labels of any codes, as far as this device knows them. */
export async function labelsFor(codes: string[]): Promise<Label[]> {
  return Promise.all(codes.map(async (code) => {
    if (!code.startsWith('B') && !code.startsWith('G')) return tagOf(code);
    const view = await app().part(code);
    const [label] = view ? labelsOfParts([[code, view.part]], { name: view.batch.name, made: view.batch.mixed, what: view.batch.recipe }) : [];
    const count = code.startsWith('G') && view ? onLabel(() => ({ word: t('tag.G'), number: t('name.bags', { n: view.part.n }) })) : {};
    return label ? { ...label, ...count } : tagOf(code);
  }));
}
